// Sister shops: the connection code of this one, to be entered in the others, and the others' entered here.
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { Failure, refresh, sisters } from "../../api/client";
import type { Sister, Sisters as Kept } from "../../api/types";
import { shop, t } from "../../state";
import { copy } from "../kit/copy";
import { say } from "../kit/sheet";
import { has } from "../../text/words";
import { atLeast } from "../kit/fields";

/** A part of the shop's id, which follows from its key: short enough to be compared by telephone. */
const check = (id: string): string => (id.slice(0, 16).match(/.{4}/g) ?? []).join(" ");

export function Sisters() {
  const kept = useSignal<Kept | undefined>(undefined);
  const code = useSignal("");
  const wrong = useSignal<string | undefined>(undefined);
  const sure = useSignal<string | undefined>(undefined);
  const may = atLeast("admin");

  const failed = (error: unknown): void => {
    const failure = error instanceof Failure ? error.code : "error";
    wrong.value = t(has(`over-${failure}`) ? `over-${failure}` : "over-error");
  };
  const look = (): Promise<void> =>
    sisters.list().then((now) => {
      kept.value = now;
      wrong.value = undefined;
    }, failed);
  /** The list of shops comes with the sign-in, so that it is there without a network. */
  const done = (what: string): void => {
    say(what);
    void refresh().catch(() => undefined);
    void look();
  };
  useEffect(() => {
    if (may) void look();
  }, [may]);

  if (!may) return <p>{t("setup-sisters-admin")}</p>;
  const trouble = wrong.value && (
    <p class="notice-line bad" role="alert">
      {wrong.value}
    </p>
  );
  if (!kept.value) return trouble || <p class="quiet">{t("loading")}</p>;
  const own = kept.value.code;
  return (
    <div class="setup-form stack">
      <h2>{t("setup-sisters")}</h2>
      <p>{t("setup-sisters-intro")}</p>
      <ol class="steps">
        {["one", "two", "three", "four"].map((step) => (
          <li key={step}>{t(`setup-sisters-step-${step}`)}</li>
        ))}
      </ol>
      <ul class="rows">
        {kept.value.sisters.map((one: Sister) => (
          <li key={one.id} class="apart">
            <span>
              <b>{one.name}</b>
              <br />
              <span class="quiet small">
                {one.address}, {t("setup-sisters-check", { number: check(one.id) })}
              </span>
            </span>
            {sure.value === one.id ? (
              <button
                class="button bad"
                onClick={() => void sisters.remove(one.id).then(() => done(t("saved")), failed)}
              >
                {t("setup-sisters-sure")}
              </button>
            ) : (
              <button class="button" onClick={() => (sure.value = one.id)}>
                {t("setup-remove")}
              </button>
            )}
          </li>
        ))}
      </ul>
      {kept.value.sisters.length === 0 && <p class="quiet">{t("setup-none-yet")}</p>}
      <h3>{t("setup-sisters-own")}</h3>
      <p>{t("setup-sisters-own-how", { shop: shop.value?.name ?? "", address: location.origin })}</p>
      <p>
        <strong>{t("setup-sisters-check", { number: check(kept.value.id) })}</strong>
      </p>
      <p>
        <output class="link-text">{own}</output>
      </p>
      <p>
        <button class="button" onClick={() => void copy(own).then((copied) => copied && say(t("setup-copied")))}>
          {t("setup-sisters-copy")}
        </button>
      </p>
      <h3>{t("setup-sisters-add")}</h3>
      <form
        class="stack"
        onSubmit={(event) => {
          event.preventDefault();
          sisters.add(code.value).then((one) => {
            code.value = "";
            done(t("setup-sisters-added", { shop: one.name }));
          }, failed);
        }}
      >
        <div class="field">
          <label>
            <span class="label">{t("setup-sisters-code")}</span>
            <textarea
              rows={4}
              value={code.value}
              autocomplete="off"
              spellcheck={false}
              onInput={(event) => (code.value = event.currentTarget.value)}
            />
          </label>
        </div>
        {trouble}
        <button class="button" disabled={!code.value.trim()}>
          {t("setup-add")}
        </button>
      </form>
    </div>
  );
}
