// Signing in: by a link or its code; managers also by password. Clear words when a link is used up.
import { useEffect } from "preact/hooks";
import { useSignal } from "@preact/signals";
import { me, t, unsent } from "../../state";
import { has, loadWords } from "../../text/words";
import { ByPasskey } from "./passkey/enter";
import { go } from "../kit/router";
import { auth, Failure } from "../../api/client";
import { enter, invited, join, refused, tokenOf } from "./session";

await loadWords("enter");

/** `part`: inside another screen, from which there is a way back. */
export function SignIn({ part = false, onBack }: { part?: boolean; onBack?: () => void }) {
  const busy = useSignal(false);
  const code = useSignal("");
  const name = useSignal("");
  const password = useSignal("");
  const token = invited.value;

  const run = async (signIn: () => Promise<boolean>): Promise<void> => {
    busy.value = true;
    const went = await signIn();
    busy.value = false;
    if (went) go("/", true);
  };
  // On a phone whose home screen app has its own storage, the link would be used up in the browser.
  const installFirst = /iPhone|iPad/.test(navigator.userAgent) && !matchMedia("(display-mode: standalone)").matches;
  // A link in the hands of somebody else, or of a page that sent here, signs nobody in by itself: a person touches.
  const seen = useSignal<{ shop: string; name: string; display: boolean } | undefined>(undefined);
  useEffect(() => {
    seen.value = undefined;
    if (!token) return;
    auth.look(tokenOf(token)).then(
      (found) => (seen.value = found),
      (error: unknown) => (refused.value = error instanceof Failure ? error.code : "error"),
    );
  }, [token]);

  const why = refused.value;
  return (
    <section class={part ? "stack" : "page sign-in"}>
      {!part && <h1>Turnbuckle</h1>}
      {me.value && !token && <p>{t("signed-out-as", { name: me.value.name })}</p>}
      {unsent.value.length > 0 && <p class="notice-line">{t("sign-in-to-send", { count: unsent.value.length })}</p>}
      {why && (
        <p class="notice-line bad" role="alert">
          {t(has(`sign-in-${why}`) ? `sign-in-${why}` : "sign-in-error")}
        </p>
      )}
      {busy.value && <p role="status">{t("signing-in")}</p>}
      {token && seen.value && (
        <div class="stack">
          <p class="notice-line">
            {t(seen.value.display ? "link-is-wall" : "link-is-for", { shop: seen.value.shop, name: seen.value.name })}
          </p>
          {installFirst && <p>{t("install-first")}</p>}
          <button class="button full main" disabled={busy.value} onClick={() => void run(() => join(token))}>
            {t(installFirst ? "join-here" : "join-as", { name: seen.value.name })}
          </button>
        </div>
      )}
      <form
        class="stack"
        onSubmit={(event) => {
          event.preventDefault();
          void run(() => join(code.value));
        }}
      >
        <h2>{t("by-link")}</h2>
        <p>{t("by-link-how")}</p>
        <div class="field">
          <label>
            <span class="label">{t("link-or-code")}</span>
            <input
              value={code.value}
              autocomplete="off"
              autocapitalize="off"
              spellcheck={false}
              onInput={(event) => (code.value = event.currentTarget.value)}
            />
          </label>
        </div>
        <button class="button full" disabled={!code.value.trim() || busy.value}>
          {t("sign-in")}
        </button>
      </form>
      <form
        class="stack"
        onSubmit={(event) => {
          event.preventDefault();
          void run(() => enter(name.value.trim(), password.value));
        }}
      >
        <h2>{t("by-password")}</h2>
        <div class="field">
          <label>
            <span class="label">{t("name")}</span>
            <input
              value={name.value}
              autocomplete="username"
              onInput={(event) => (name.value = event.currentTarget.value)}
            />
          </label>
        </div>
        <div class="field">
          <label>
            <span class="label">{t("password")}</span>
            <input
              type="password"
              value={password.value}
              autocomplete="current-password"
              onInput={(event) => (password.value = event.currentTarget.value)}
            />
          </label>
        </div>
        <button class="button full" disabled={!name.value.trim() || !password.value || busy.value}>
          {t("sign-in")}
        </button>
      </form>
      <ByPasskey busy={busy.value} run={run} />
      {onBack && (
        <button class="button full" onClick={onBack}>
          {t("back")}
        </button>
      )}
    </section>
  );
}
