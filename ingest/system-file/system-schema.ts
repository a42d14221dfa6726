import { channelKeys, channelKinds } from './read-channel.ts'
import { checkKeys } from './read-check.ts'
import { fittingKeys, fittingKinds } from './read-fitting.ts'
import { holdKeys } from './read-hold.ts'
import { media, sectionKeys } from './read-section.ts'
import type { topKeys } from './read-system-file.ts'
import { valveKeys } from './read-valve.ts'

/** As much of JSON Schema as is used here. */
export interface JsonSchema {
  readonly $schema?: string
  readonly title?: string
  readonly description?: string
  readonly type?: string | readonly string[]
  readonly const?: number
  readonly enum?: readonly string[]
  readonly properties?: Readonly<Record<string, JsonSchema>>
  readonly required?: readonly string[]
  readonly additionalProperties?: false | JsonSchema
  readonly items?: JsonSchema
  readonly minItems?: number
  readonly maxItems?: number
}

const text = (description: string): JsonSchema => ({ type: ['string', 'number', 'boolean'], description })
const words = (description: string, values: readonly string[]): JsonSchema => ({ enum: values, description })
const names = (description: string): JsonSchema => ({ type: 'array', items: text('an id'), description })
const scalePoints: JsonSchema = {
  ...{ type: 'array', minItems: 2, maxItems: 2, description: 'two points [sent, meaning]' },
  items: { type: 'array', minItems: 2, maxItems: 2, items: text('a quantity') },
}

/** A mapping of exactly these keys: the compiler asks for each of them here. */
function mapping<K extends string>(
  properties: Readonly<Record<K, JsonSchema>>,
  required: readonly NoInfer<K>[],
  description = '',
): JsonSchema {
  return {
    type: 'object',
    properties,
    required,
    additionalProperties: false,
    ...(description && { description }),
  }
}

const list = <K extends string>(
  keys: Readonly<Record<K, JsonSchema>>,
  required: readonly K[],
): JsonSchema => ({
  type: 'array',
  items: mapping(keys, required),
})
const keysOf = <K extends string>(_: readonly K[], schemas: Readonly<Record<K, JsonSchema>>) => schemas

const source = mapping(
  {
    measurement: text('measurement of the points'),
    field: text('field of the points'),
    tags: { type: 'object', additionalProperties: text('a tag that must match') },
  },
  ['field'],
)

/**
 * JSON Schema of a system file, for editors that complete and check. It is made of the very lists of keys and words that the
 * reader checks; what only the reader knows (units, references between parts) it leaves to the reader.
 */
export const systemSchema: JsonSchema = {
  $schema: 'https://json-schema.org/draft/2020-12/schema',
  title: 'Stillhold system file, version 1',
  ...mapping<(typeof topKeys)[number]>(
    {
      stillhold: { const: 1, description: 'version of the format' },
      name: text('name of the system'),
      'scc-reference': text(
        'temperature of a standard cubic centimetre, such as 20 degC; 0 degC when absent',
      ),
      aircraft: mapping({ registration: text('as its papers say'), serial: text('as its papers say') }, []),
      priors: mapping(
        {
          source: text('where the shares come from'),
          ...(Object.fromEntries(
            fittingKinds.map((kind) => [kind, text('share that leaks, such as 8 %')]),
          ) as Record<string, JsonSchema>),
        },
        ['source'],
      ),
      channels: list(
        keysOf(channelKeys, {
          id: text('name in results'),
          measures: words('what it measures', channelKinds),
          section: text('section it is on; not for the barometer'),
          places: names('in place of section, for a gauge that is moved: the sections it may be on'),
          from: source,
          unit: text('unit of the numbers as they come'),
          scale: {
            ...mapping(
              {
                linear: scalePoints,
                ratiometric: scalePoints,
                rail: source,
                ntc: mapping({ 'at-25C': text('such as 10 kohm'), beta: text('such as 3950 K') }, [
                  'at-25C',
                  'beta',
                ]),
                pt: text('resistance at 0 °C, such as 1000 ohm'),
              },
              [],
            ),
          },
          range: text('span, such as 0 psi to 30 psi'),
          resolution: text('smallest step; of a dial its smallest division'),
          accuracy: text('such as 0.25 % of span'),
          calibration: mapping(
            {
              date: text('ISO date'),
              due: text('ISO date'),
              points: {
                type: 'array',
                items: { type: 'array', minItems: 2, maxItems: 2, items: text('a quantity') },
              },
            },
            ['date', 'points'],
          ),
          on: words('what a thermometer touches', ['wall', 'gas', 'air']),
          serial: text('serial number of the sensor'),
        }),
        ['id', 'measures', 'from'],
      ),
      sections: list(
        keysOf(sectionKeys, {
          id: text('name in results'),
          medium: words('what it is tested with', media),
          volume: text('such as 0.35 L ± 10 %'),
          'max-pressure': text('gauge, of its weakest part'),
          'max-vacuum': text('below the atmosphere'),
          stretch: text('growth with pressure, such as 0 % per bar; unknown when absent'),
          kind: words('judged from the volume when absent', ['line', 'tank', 'rig']),
          capacity: text('of a tank'),
          unusable: text('of a tank'),
        }),
        ['id', 'medium', 'volume'],
      ),
      fittings: list(
        keysOf(fittingKeys, {
          id: text('such as F07'),
          section: text('section it belongs to'),
          kind: words('kind of joint', fittingKinds),
          size: text('dash size, such as -6'),
          name: text('what people call it'),
          material: words('of the tube', ['aluminium', 'steel']),
          torque: text('one value, or 11 N·m to 14 N·m'),
          behind: { ...names('fittings to be opened to reach it'), type: ['array', 'string'] },
        }),
        ['id', 'section'],
      ),
      valves: list(
        keysOf(valveKeys, {
          id: text('such as V2'),
          between: { ...names('the sections it parts, or one for a cap'), minItems: 1, maxItems: 2 },
          name: text('what people call it'),
          kind: words('kind of valve', ['selector', 'shut-off', 'check', 'cap', 'pump', 'gauge-cock']),
        }),
        ['id', 'between'],
      ),
      holds: list(
        keysOf(holdKeys, {
          id: text('name in results'),
          sections: names('sections under pressure'),
          shut: names('valves shut for it'),
          pressure: text('test pressure, gauge; negative for suction'),
          settle: text('such as 2 min'),
          hold: text('such as 10 min'),
          time: words('prescribed when absent', ['prescribed', 'until-decided']),
          allow: mapping(
            {
              drop: text('such as 0.1 psi'),
              rise: text('of a suction hold'),
              leak: text('such as 0.2 scc/min'),
            },
            [],
          ),
          source: text('where the allowance comes from'),
          rig: text('section of kind rig that is under pressure too'),
          proof: words('whether a pass needs a proof of the bench', ['required', 'optional']),
        }),
        ['id', 'sections', 'pressure', 'settle', 'hold', 'allow'],
      ),
      checks: list(
        keysOf(checkKeys, {
          id: text('such as K1'),
          kind: words('kind of check', ['known-leak', 'known-volume']),
          section: text('section it is on'),
          rate: text('of a known leak: 0.5 scc/min ± 5 % at 10 psi'),
          volume: text('of a known volume: 10 mL ± 1 %'),
        }),
        ['id', 'kind', 'section'],
      ),
    },
    ['stillhold', 'name', 'sections'],
  ),
}
