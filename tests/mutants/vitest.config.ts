import { defineConfig } from 'vitest/config'
import { BaseSequencer, type TestSpecification } from 'vitest/node'

/** Places of tests in the order in which they are run, separated by spaces: the first to notice a mutant ends the run. */
const places = (process.env['MUTANT_TESTS'] ?? '').split(' ').filter(Boolean)

class AsNamed extends BaseSequencer {
  override async sort(files: TestSpecification[]): Promise<TestSpecification[]> {
    const rank = ({ moduleId }: TestSpecification) => places.findIndex((place) => moduleId.includes(place))
    return [...files].sort((a, b) => rank(a) - rank(b) || (a.moduleId < b.moduleId ? -1 : 1))
  }
}

export default defineConfig({
  define: { __STILLHOLD_VERSION__: JSON.stringify('0.0.0-test') },
  test: {
    root: new URL('../..', import.meta.url).pathname,
    include: places.map((place) => (place.endsWith('.ts') ? place : `${place}/**/!(*.campaign).test.ts`)),
    isolate: false,
    setupFiles: ['./tests/fixed-seed.ts'],
    testTimeout: 120_000,
    hookTimeout: 120_000,
    maxWorkers: 1,
    bail: 1,
    sequence: { sequencer: AsNamed },
    reporters: ['dot'],
  },
})
