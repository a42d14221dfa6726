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
          id: text('Stands in every result and chart.'),
          measures: words(
            'Most gauges read zero when open to the air; one that reads the atmosphere then is absolute.',
            channelKinds,
          ),
          section: text('The section it is screwed into; none for the barometer.'),
          places: names('For a gauge that is moved, in place of section: each hold asks where it is.'),
          from: source,
          unit: text('Of the numbers as the logger sends them: psi, kPa, hPa, degC, V, mA.'),
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
          range: text(
            'Printed on the gauge, such as 0 psi to 30 psi. A reading at either end counts as clipped.',
          ),
          resolution: text(
            'Smallest division of a dial, such as 0.1 psi. Estimated from the readings when absent.',
          ),
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
          id: text('Stands in every result and report, such as left-feed.'),
          kind: words(
            'A tank is thin and stretches: it is held at low pressure for long. A rig is your own hose and gauge. Judged from the volume when absent.',
            ['line', 'tank', 'rig'],
          ),
          medium: words('Dry air or nitrogen shows a leak soonest. Never pressurize over fuel vapor.', media),
          volume: text(
            'How far the pressure falls by a leak depends on it. Measured, or from hose size and length; with what it is known within, such as 0.35 L ± 10 %.',
          ),
          'max-pressure': text('Of its weakest part, from its maker: the page calls before it is reached.'),
          'max-vacuum': text('below the atmosphere'),
          stretch: text('growth with pressure, such as 0 % per bar; unknown when absent'),
          capacity: text('Of a tank, for the fuel checks.'),
          unusable: text('of a tank'),
        }),
        ['id', 'medium', 'volume'],
      ),
      fittings: list(
        keysOf(fittingKeys, {
          id: text('Stands on the drawing and in the ledger, such as F07.'),
          name: text('What people call it, such as selector inlet left.'),
          section: text('A hold of this section proves the fitting.'),
          kind: words('Some kinds leak more often: the hunt looks there first.', fittingKinds),
          size: text('Dash size or thread, such as -6 or 1/4 NPT.'),
          material: words('of the tube', ['aluminium', 'steel']),
          torque: text('From the maker, such as 11 N·m to 14 N·m: marked work is compared with it.'),
          behind: { ...names('fittings to be opened to reach it'), type: ['array', 'string'] },
        }),
        ['id', 'section'],
      ),
      valves: list(
        keysOf(valveKeys, {
          id: text('Stands on the drawing and in each hold that shuts it, such as V2.'),
          name: text('What people call it, such as fuel selector.'),
          between: {
            ...names('The two sections it parts; one for a cap, vent or plug to the outside.'),
            minItems: 1,
            maxItems: 2,
          },
          kind: words('A cap or plug must come out again: the page remembers it.', [
            'selector',
            'shut-off',
            'check',
            'cap',
            'pump',
            'gauge-cock',
          ]),
        }),
        ['id', 'between'],
      ),
      holds: list(
        keysOf(holdKeys, {
          id: text('Stands in records and reports, such as left-feed-10psi.'),
          sections: names('Under pressure: everything between the shut valves.'),
          shut: names('What closes these sections off; the state sheet asks for it.'),
          pressure: text(
            'Test pressure from the maker, never over the limit of a section; negative for suction.',
          ),
          settle: text('The heat of pumping must fade first: lines 2 min, tanks 15 min.'),
          hold: text('Longer tells smaller leaks; the plan says how long is long enough.'),
          time: words('prescribed when absent', ['prescribed', 'until-decided']),
          allow: mapping(
            {
              drop: text(
                'Fall of pressure in the hold time that still passes. The maker’s figure comes first.',
              ),
              rise: text('of a suction hold'),
              leak: text('such as 0.2 scc/min'),
            },
            [],
          ),
          source: text('Whose allowance it is: stands in the report beside the verdict.'),
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
