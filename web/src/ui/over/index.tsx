// Coming over from a sister shop: who that is here, and what is still missing for it.
// Must not know: what a pass says; only the server reads it.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { auth, Failure } from "../../api/client";
import type { Arrived } from "../../api/types";
import { me, reach, shop, t } from "../../state";
import { go } from "../router";
import { adopt, passed, thisBrowser } from "../session";
import { SignIn } from "../sign-in";
import { has } from "../words";

export default function Over() {
  const pass = passed.value ?? "";
  const from = useSignal<Arrived | undefined>(undefined);
  const failed = useSignal<Failure | undefined>(undefined);
  const busy = useSignal(false);
  const here = me.value;

  const end = (): void => {
    passed.value = undefined;
    go("/", true);
  };
  const run = async (step: () => Promise<void>): Promise<void> => {
    busy.value = true;
    failed.value = undefined;
    try {
      await step();
    } catch (error) {
      failed.value = error instanceof Failure ? error : new Failure(500, "error", "");
    }
    busy.value = false;
  };
  const comeIn = (): Promise<void> =>
    run(async () => {
      await adopt(await auth.over(pass, await thisBrowser()), true);
      end();
    });
  const sayWho = (): Promise<void> =>
    run(async () => {
      await auth.kin(pass);
      end();
    });
  const arrive = (): Promise<void> =>
    run(async () => {
      // From the beginning: whoever tries again must be let in again, too.
      from.value = undefined;
      from.value = await auth.arrive(pass);
    });

  useEffect(() => {
    void arrive();
  }, [pass]);
  // A sign-in of the same person that still stands is as good as a new one.
  const person = from.value?.person;
  const stands = here?.person === person && reach.value.why !== "sign_in";
  useEffect(() => {
    if (!person) return;
    if (stands) end();
    else if (!here || here.person === person) void comeIn();
  }, [person, stands]);

  const why = failed.value;
  if (why) {
    const again = why.transient;
    return (
      <section class="page sign-in stack">
        <h1>{shop.value?.name ?? "Turnbuckle"}</h1>
        <p class="notice-line bad" role="alert">
          {t(has(`over-${why.code}`) ? `over-${why.code}` : "over-error")}
        </p>
        {again && (
          <button class="button full" onClick={() => void arrive()}>
            {t("try-again")}
          </button>
        )}
        <button class="button full" onClick={end}>
          {t(here ? "over-go-on" : "sign-in")}
        </button>
      </section>
    );
  }
  const came = from.value;
  if (!came || busy.value || (person && (!here || here.person === person))) {
    return (
      <p class="page" role="status">
        {t("signing-in")}
      </p>
    );
  }
  if (!here) {
    return (
      <section class="page sign-in stack">
        <h1>Turnbuckle</h1>
        <p class="notice-line">{t("over-sign-in-once", { shop: came.shop })}</p>
        <SignIn part />
      </section>
    );
  }
  return (
    <section class="page sign-in stack">
      <h1>{shop.value?.name ?? here.shop_name}</h1>
      <p>{t("over-two-names", { shop: came.shop, there: came.name, here: here.name })}</p>
      {person ? (
        <button class="button full" onClick={() => void comeIn()}>
          {t("over-change")}
        </button>
      ) : (
        <>
          <p>{t("over-is-that-you", { shop: came.shop, there: came.name, here: here.name })}</p>
          <button class="button full" onClick={() => void sayWho()}>
            {t("over-that-is-me")}
          </button>
        </>
      )}
      <button class="button full" onClick={end}>
        {t("over-stay", { here: here.name })}
      </button>
    </section>
  );
}
