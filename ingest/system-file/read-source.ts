import { isMap, type Node } from 'yaml'
import type { ChannelSource } from '#analysis/model/system.ts'
import type { FileView } from './file-view.ts'

/** Where numbers come from; a part left out is taken from `base` (a rail beside its channel). */
export function readSource(
  file: FileView,
  node: Node | null,
  what: string,
  base: ChannelSource | null,
): ChannelSource | null {
  if (node === null) return null
  const view = file.open(node, what, ['measurement', 'field', 'tags'])
  if (view === null) return null
  const measurement = view.text('measurement') ?? base?.measurement ?? view.requiredText('measurement')
  const field = view.requiredText('field')
  const tagsNode = view.node('tags')
  const tags = tagsNode === null ? (base?.tags ?? {}) : readTags(file, tagsNode, `${what}: tags`)
  return measurement === null || field === null ? null : { measurement, field, tags }
}

function readTags(file: FileView, node: Node, what: string): Record<string, string> {
  if (!isMap(node)) {
    file.error(node, `${what}: expected a mapping like { port: a }`)
    return {}
  }
  const tags: [string, string][] = []
  for (const pair of node.items) {
    const key = file.resolve(pair.key)
    const value = file.resolve(pair.value)
    const keyText = key && file.textOf(key)
    const valueText = value && file.textOf(value)
    if (!keyText || !valueText) file.error(key ?? node, `${what}: a tag needs a name and a value`)
    else tags.push([keyText, valueText])
  }
  // fromEntries defines plain members even for a tag called __proto__.
  return Object.fromEntries(tags)
}
