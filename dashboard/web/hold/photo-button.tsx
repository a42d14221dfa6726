import { tell } from '../live/bench.ts'
import { toast } from '../parts/toast.tsx'
import { useTask } from '../parts/use-answer.ts'

/** Longest side of a photo as it is sent, [px]: a weeping joint shows, and the network of a hangar carries it. */
const LONGEST_PX = 1600

/** The phone's own camera: the photo goes with the running hold, of the fitting that was marked last. */
export function PhotoButton({ fitting }: { fitting: string | null }) {
  const { busy, run } = useTask()
  const send = (file: File | undefined) =>
    run(async () => {
      if (!file) return
      await tell('/api/hold/photo', { fitting, base64: await smaller(file) })
      toast(`Photo kept${fitting === null ? '' : `: ${fitting}`}.`)
    })
  return (
    <label class={`button photo-button ${busy.value ? 'is-busy' : ''}`}>
      {busy.value ? 'Sending…' : fitting === null ? 'Photo' : `Photo of ${fitting}`}
      <input
        type="file"
        class="unseen"
        accept="image/*"
        capture="environment"
        disabled={busy.value}
        onChange={(event) => {
          void send(event.currentTarget.files?.[0])
          event.currentTarget.value = ''
        }}
      />
    </label>
  )
}

/** A JPEG of it in base64, no larger than needed. */
async function smaller(file: File): Promise<string> {
  const picture = await createImageBitmap(file)
  const scale = Math.min(1, LONGEST_PX / Math.max(picture.width, picture.height))
  const canvas = document.createElement('canvas')
  canvas.width = Math.round(picture.width * scale)
  canvas.height = Math.round(picture.height * scale)
  canvas.getContext('2d')!.drawImage(picture, 0, 0, canvas.width, canvas.height)
  return canvas.toDataURL('image/jpeg', 0.85).replace(/^data:[^,]*,/, '')
}
