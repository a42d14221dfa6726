import { History } from '../records/history.tsx'
import { Overlay } from '../records/overlay.tsx'
import { RecordList } from '../records/record-list.tsx'
import { RecordView } from '../records/record-view.tsx'
import type { PageProps } from '../route.ts'

export function RecordsPage({ rest }: PageProps) {
  const [id, over, other] = rest
  if (id === undefined) return <RecordList />
  if (id === 'history') return <History section={over ?? null} />
  if (over === 'over' && other !== undefined) return <Overlay key={id + other} before={id} after={other} />
  return <RecordView key={id} id={id} />
}
