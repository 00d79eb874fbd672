// One's own passkeys: making, naming, removing. For who may have a password.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { Failure } from "../../../api/client";
import type { OnePasskey } from "../../../api/types";
import { t } from "../../../state";
import { at } from "../../../text/sentences";
import { say } from "../../kit/sheet";
import { has, loadWords } from "../../../text/words";
import { byAddress, canHere, list, make, remove, rename } from "./key";

await loadWords("passkey");

const NAME_CHARS_MAX = 60;

export function OwnPasskeys() {
  const rows = useSignal<OnePasskey[] | undefined>(undefined);
  const name = useSignal("");
  const password = useSignal("");
  const busy = useSignal(false);
  const refused = useSignal("");
  useEffect(() => {
    list().then(
      ({ passkeys }) => (rows.value = passkeys),
      () => undefined,
    );
  }, []);

  const run = async (what: () => Promise<{ passkeys: OnePasskey[] }>): Promise<boolean> => {
    busy.value = true;
    refused.value = "";
    try {
      rows.value = (await what()).passkeys;
      return true;
    } catch (error) {
      const word = error instanceof Failure ? `passkey-${error.code}` : "";
      refused.value = has(word) ? word : "not-reached-now";
      return false;
    } finally {
      busy.value = false;
    }
  };
  const add = async (): Promise<void> => {
    const went = await run(() => make(name.value.trim() || t("passkey-unnamed"), password.value));
    password.value = "";
    if (!went) return;
    name.value = "";
    say(t("saved"));
  };

  return (
    <div class="stack">
      <h2>{t("passkeys")}</h2>
      <p>{t("passkeys-how")}</p>
      {!rows.value && <p class="quiet">{t("devices-later")}</p>}
      {rows.value?.length === 0 && <p class="quiet">{t("passkey-none-yet")}</p>}
      <ul class="rows">
        {rows.value?.map((one) => (
          <Row key={one.id} one={one} busy={busy.value} run={run} />
        ))}
      </ul>
      {refused.value && (
        <p class="notice-line bad" role="alert">
          {t(refused.value)}
        </p>
      )}
      {byAddress() ? (
        <p class="notice-line">{t("passkeys-by-address", { host: location.hostname })}</p>
      ) : !canHere() ? (
        <p class="notice-line">{t("passkeys-not-here")}</p>
      ) : (
        <form
          class="stack"
          onSubmit={(event) => {
            event.preventDefault();
            void add();
          }}
        >
          <div class="field">
            <label>
              <span class="label">{t("passkey-name")}</span>
              <input
                value={name.value}
                maxLength={NAME_CHARS_MAX}
                autocomplete="off"
                onInput={(event) => (name.value = event.currentTarget.value)}
              />
            </label>
          </div>
          <div class="field">
            <label>
              <span class="label">{t("passkey-password")}</span>
              <input
                type="password"
                autocomplete="current-password"
                value={password.value}
                onInput={(event) => (password.value = event.currentTarget.value)}
              />
            </label>
          </div>
          <button class="button" disabled={busy.value || !password.value}>
            {t("passkey-make")}
          </button>
        </form>
      )}
    </div>
  );
}

function Row({
  one,
  busy,
  run,
}: {
  one: OnePasskey;
  busy: boolean;
  run: (what: () => Promise<{ passkeys: OnePasskey[] }>) => Promise<boolean>;
}) {
  const naming = useSignal<string | undefined>(undefined);
  const typed = naming.value;
  return (
    <li class="stack">
      <span>
        {typed === undefined ? (
          one.name
        ) : (
          <input
            value={typed}
            maxLength={NAME_CHARS_MAX}
            aria-label={t("passkey-name")}
            onInput={(event) => (naming.value = event.currentTarget.value)}
          />
        )}
        <br />
        <span class="quiet small">
          {one.at !== location.hostname && `${t("passkey-for", { host: one.at })} `}
          {t("passkey-since", { at: at(one.since) })}{" "}
          {one.used_at ? t("passkey-used", { at: at(one.used_at) }) : t("passkey-not-used")}
        </span>
      </span>
      <div class="buttons">
        {typed === undefined ? (
          <button class="button" disabled={busy} onClick={() => (naming.value = one.name)}>
            {t("passkey-rename")}
          </button>
        ) : (
          <button
            class="button"
            disabled={busy || !typed.trim()}
            onClick={() =>
              void run(() => rename(one.id, typed.trim())).then((went) => went && (naming.value = undefined))
            }
          >
            {t("save")}
          </button>
        )}
        <button
          class="button"
          disabled={busy}
          aria-label={`${t("passkey-remove")}: ${one.name}`}
          onClick={() => void run(() => remove(one.id))}
        >
          {t("passkey-remove")}
        </button>
      </div>
    </li>
  );
}
