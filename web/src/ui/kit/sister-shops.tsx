// The other shops of the same business, and the way to them.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { auth, Failure, kin } from "../../api/client";
import type { Kin, OtherShop } from "../../api/types";
import { me, shared, shop, t } from "../../state";
import { say } from "./sheet";

/** On a tablet that several people share everybody would come over as whoever asked. */
const others = (): OtherShop[] => (shared.value ? [] : (me.value?.shops ?? []));

function useWay(): { busy: boolean; to: (other: OtherShop) => void } {
  const busy = useSignal(false);
  const to = (other: OtherShop): void => {
    busy.value = true;
    auth.pass(other.id).then(
      (way) => location.assign(way.link),
      (error: unknown) => {
        busy.value = false;
        // Without this shop's server there is no pass; a sign-in from before may stand over there.
        if (error instanceof Failure && error.transient) location.assign(other.address);
        else say(error instanceof Failure ? error.message : t("over-error"));
      },
    );
  };
  return { busy: busy.value, to };
}

/** From which shops somebody comes over as this person, and the way to end it. */
export function ComesFrom({ person }: { person: string }) {
  const found = useSignal<Kin[]>([]);
  useEffect(() => {
    kin.of(person).then(
      (answer) => (found.value = answer.kin),
      () => undefined,
    );
  }, [person]);
  if (found.value.length === 0) return null;
  const end = (one: Kin): void => {
    kin.end(person, one.id).then(
      () => (found.value = found.value.filter((other) => other !== one)),
      (error: unknown) => say(error instanceof Failure && error.status !== 0 ? error.message : t("over-unreached")),
    );
  };
  return (
    <div class="stack">
      <h2>{t("over-comes-from")}</h2>
      <ul class="rows">
        {found.value.map((one) => (
          <li key={one.id} class="apart">
            <span>{t("over-comes-as", { shop: one.shop, there: one.name })}</span>
            <button class="button" onClick={() => end(one)}>
              {t("over-end")}
            </button>
          </li>
        ))}
      </ul>
    </div>
  );
}

/** In one's own things: each with its address. */
export function OtherShops() {
  const way = useWay();
  if (others().length === 0) return null;
  return (
    <div class="stack">
      <h2>{t("over-other-shops")}</h2>
      <ul class="rows">
        {others().map((other) => (
          <li key={other.id} class="apart">
            <span>
              {other.name}
              <br />
              <span class="quiet small">{new URL(other.address).host}</span>
            </span>
            <button class="button" disabled={way.busy} onClick={() => way.to(other)}>
              {t("over-go")}
            </button>
          </li>
        ))}
      </ul>
    </div>
  );
}

/** Above the view of the shop: which one this is, and the others beside it. */
export function WhichShop() {
  const way = useWay();
  if (others().length === 0) return null;
  return (
    <p class="which-shop no-print">
      <strong>{shop.value?.name ?? me.value?.shop_name}</strong>
      {others().map((other) => (
        <button key={other.id} class="button small-button" disabled={way.busy} onClick={() => way.to(other)}>
          {t("over-to", { shop: other.name })}
        </button>
      ))}
    </p>
  );
}
