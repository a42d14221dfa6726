import { t } from '#analysis/reasons/language.ts'
import { tell } from '../live/bench.ts'
import { toast } from '../parts/toast.tsx'
import { useTask } from '../parts/use-answer.ts'

/** Longest side of a sent photo, [px]: enough to show a weeping joint, small enough for a slow network. */
const LONGEST_PX = 1600

/** Takes a photo with the phone's camera and attaches it to the running hold and the fitting marked last. */
export function PhotoButton({ fitting }: { fitting: string | null }) {
  const { busy, run } = useTask()
  const send = (file: File | undefined) =>
    run(async () => {
      if (!file) return
      await tell('/api/hold/photo', { fitting, base64: await smaller(file) })
      toast(fitting === null ? t`Photo kept.` : t`Photo kept: ${fitting}.`)
    })
  return (
    <label class={`button photo-button ${busy.value ? 'is-busy' : ''}`}>
      {busy.value ? t`Sending…` : fitting === null ? t`Photo` : t`Photo of ${fitting}`}
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

/** The photo scaled down, as a JPEG in base64. */
async function smaller(file: File): Promise<string> {
  const picture = await createImageBitmap(file)
  const scale = Math.min(1, LONGEST_PX / Math.max(picture.width, picture.height))
  const canvas = document.createElement('canvas')
  canvas.width = Math.round(picture.width * scale)
  canvas.height = Math.round(picture.height * scale)
  canvas.getContext('2d')!.drawImage(picture, 0, 0, canvas.width, canvas.height)
  return canvas.toDataURL('image/jpeg', 0.85).replace(/^data:[^,]*,/, '')
}
