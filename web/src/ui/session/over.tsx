// Coming over from a sister shop: who that is here, and what is still missing for it.
// Must not know: what a pass says; only the server reads it.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { auth, Failure } from "../../api/client";
import type { Arrived } from "../../api/types";
import { plans } from "../../core/cards";
import { me, reach, shop, t } from "../../state";
import { go } from "../kit/router";
import { adopt, passed, thisBrowser } from "./session";
import { SignIn } from "./sign-in";
import { has } from "../../text/words";

export default function Over() {
  const pass = passed.value ?? "";
  const from = useSignal<Arrived | undefined>(undefined);
  const failed = useSignal<Failure | undefined>(undefined);
  const busy = useSignal(false);
  const asks = useSignal(false);
  const wrong = useSignal(false);
  const secret = useSignal("");
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
      await adopt(await auth.over(pass, thisBrowser()), true);
      end();
    });
  const sayWho = (): Promise<void> =>
    run(async () => {
      try {
        await auth.kin(pass, secret.value || undefined);
        end();
      } catch (error) {
        // The pass is still good: asked once more, what was typed is gone.
        if (!(error instanceof Failure) || error.code !== "proof_needed") throw error;
        if (secret.value) wrong.value = true;
        asks.value = true;
        secret.value = "";
      }
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
    if (person && stands) end();
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
  if (!came || busy.value || (person && stands)) {
    return (
      <p class="page" role="status">
        {t("signing-in")}
      </p>
    );
  }
  // Nobody comes in by having opened an address: a person touches.
  if (person && (!here || here.person === person)) {
    return (
      <section class="page sign-in stack">
        <h1>{shop.value?.name ?? "Turnbuckle"}</h1>
        <p class="notice-line">{t("over-comes", { shop: came.shop, there: came.name })}</p>
        <button class="button full main" onClick={() => void comeIn()}>
          {t("over-come-in", { there: came.name })}
        </button>
        <button class="button full" onClick={end}>
          {t("over-not-now")}
        </button>
      </section>
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
          {(asks.value || plans(here.role)) && (
            <div class="field">
              <label>
                <span class="label">{t("over-secret", { here: here.name })}</span>
                <input
                  type="password"
                  autocomplete="current-password"
                  value={secret.value}
                  onInput={(event) => (secret.value = event.currentTarget.value)}
                />
              </label>
            </div>
          )}
          {wrong.value && (
            <p class="notice-line bad" role="alert">
              {t("over-secret-wrong")}
            </p>
          )}
          <button
            class="button full"
            disabled={(asks.value || plans(here.role)) && !secret.value}
            onClick={() => void sayWho()}
          >
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
