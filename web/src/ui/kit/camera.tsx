// Takes pictures of a vehicle: each is kept on the phone and noted as it comes.
import { useSignal } from "@preact/signals";
import { useRef } from "preact/hooks";
import { t } from "../../state";
import { CameraButton, sayNotKept } from "./picture";

export function Camera({
  order,
  card,
  handoff,
}: {
  order: string;
  card?: string | undefined;
  handoff?: string | undefined;
}) {
  const count = useSignal(0);
  const busy = useRef<Promise<unknown>>(Promise.resolve());
  const add = (file: File): void => {
    const of = { order, ...(card ? { card } : {}), ...(handoff ? { handoff } : {}) };
    busy.current = busy.current
      .then(() => import("../../photos/take"))
      .then(({ photograph }) => photograph(file, of))
      .then(() => void count.value++, sayNotKept);
  };
  return (
    <div class="beside">
      <CameraButton onPicture={add} />
      {count.value > 0 && <span role="status">{t("photos-kept", { count: count.value })}</span>}
    </div>
  );
}
