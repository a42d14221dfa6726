import { History } from '../records/history.tsx'
import { Overlay } from '../records/overlay.tsx'
import { RecordList } from '../records/record-list.tsx'
import { RecordView } from '../records/record-view.tsx'
import type { PageProps } from '../route.ts'

export function RecordsPage({ rest }: PageProps) {
  const [id, over, ...others] = rest
  if (id === undefined) return <RecordList />
  if (id === 'history') return <History section={over ?? null} />
  if (over === 'over' && others.length > 0) return <Overlay key={rest.join()} ids={[id, ...others]} />
  return <RecordView key={id} id={id} />
}
