// One person's own things: language, look, devices, a code for another phone, signing out.
import { useEffect } from "preact/hooks";
import { useSignal } from "@preact/signals";
import { auth, contact, Failure, tlsStatus, type Device, type Invitation } from "../../api/client";
import type { TlsStatus } from "../../api/types";
import { plans } from "../../core/cards";
import { has } from "../../text/words";
import { language, me, now, setLanguage, shared, shop, t, unsent } from "../../state";
import { copy } from "../kit/copy";
import { OneOf } from "../kit/choices";
import { at } from "../../text/sentences";
import { orSay } from "../kit/do";
import { say } from "../kit/sheet";
import { setWay, way, WAYS } from "../kit/call";
import { applyTheme, keepLanguage, theme, THEMES } from "../kit/prefs";
import { db } from "../../db";
import { almostFull, askToKeep, lasting, look, room } from "../../room";
import { OwnPasskeys } from "./passkey";
import { ComesFrom, OtherShops } from "../kit/sister-shops";
import { signOut } from "./session";
import Share from "./share";
import type { Language } from "../../text/words";

export default function Me() {
  const who = me.value;
  if (!who) return null;
  return (
    <section class="page">
      <h1>{who.name}</h1>
      <p class="quiet">
        {t(`role-${who.role}`)}, {shop.value?.name ?? who.shop_name}
      </p>
      <nav class="buttons" aria-label={t("more")}>
        <a class="button" href="/notices">
          {t("notices")}
        </a>
        <a class="button" href="/tray">
          {t("tray")}
        </a>
        {plans(who.role) && (
          <a class="button" href="/setup">
            {t("to-setup")}
          </a>
        )}
      </nav>
      <OtherShops />
      <h2>{t("how-shown")}</h2>
      <OneOf<Language>
        legend={t("language")}
        of={["en", "es"]}
        words={(one) => (one === "en" ? "English" : "Español")}
        value={language.value}
        onChange={(to) => {
          keepLanguage(to, shared.value ? who.person : undefined);
          setLanguage(to).catch(() => say(t("part-not-here")));
        }}
      />
      <OneOf
        legend={t("theme")}
        of={THEMES}
        words={(one) => t(`theme-${one}`)}
        value={theme.value}
        onChange={applyTheme}
      />
      <OneOf legend={t("call-title")} of={WAYS} words={(one) => t(`call-${one}`)} value={way.value} onChange={setWay} />
      <Mail person={who.person} />
      <OtherPhone />
      <Share />
      <Kept />
      <Trust />
      <Devices />
      <ComesFrom person={who.person} />
      {plans(who.role) && <Password />}
      {plans(who.role) && <OwnPasskeys />}
      <h2>{t("sign-out")}</h2>
      {unsent.value.length > 0 && <p class="notice-line bad">{t("sign-out-unsent", { count: unsent.value.length })}</p>}
      <button class="button full" onClick={() => orSay(signOut())}>
        {t("sign-out")}
      </button>
    </section>
  );
}

/** A request that the network may not carry now: its failure is said in words. */
function failed(error: unknown): void {
  say(error instanceof Failure && error.status !== 0 ? error.message : t("not-reached-now"));
}

function Mail({ person }: { person: string }) {
  const email = useSignal("");
  const mail = useSignal(false);
  const known = useSignal(false);
  useEffect(() => {
    contact.get(person).then(
      (now) => {
        email.value = now.email ?? "";
        mail.value = now.mail;
        known.value = true;
      },
      () => undefined,
    );
  }, [person]);
  if (!known.value) return null;
  return (
    <form
      class="stack"
      onSubmit={(event) => {
        event.preventDefault();
        contact
          .put(person, { ...(email.value.trim() ? { email: email.value.trim() } : {}), mail: mail.value })
          .then(() => say(t("saved")), failed);
      }}
    >
      <h2>{t("mail")}</h2>
      <div class="field">
        <label>
          <span class="label">{t("mail-address")}</span>
          <input
            type="email"
            autocomplete="email"
            value={email.value}
            onInput={(event) => (email.value = event.currentTarget.value)}
          />
        </label>
      </div>
      <label class="choice">
        <input type="checkbox" checked={mail.value} onChange={() => (mail.value = !mail.value)} />
        {t("mail-me")}
      </label>
      <button class="button">{t("save")}</button>
    </form>
  );
}

/** Easier to read from one screen and type into another. */
const grouped = (code: string): string => (code.length === 10 ? `${code.slice(0, 5)} ${code.slice(5)}` : code);

/** The same person on another phone, or in the home screen app, which has its own storage. */
function OtherPhone() {
  const made = useSignal<Invitation | undefined>(undefined);
  const code = made.value;
  const over = code !== undefined && now.value >= code.expires_at;
  const asks = useSignal(false);
  const secret = useSignal("");
  const wrong = useSignal("");
  const make = (): void => {
    wrong.value = "";
    auth.transfer(secret.value || undefined).then(
      (one) => {
        made.value = one;
        asks.value = false;
        secret.value = "";
      },
      (error: unknown) => {
        if (!(error instanceof Failure) || !["proof_needed", "too_many_tries"].includes(error.code))
          return failed(error);
        if (asks.value) wrong.value = error.code === "proof_needed" ? "proof-wrong" : "password-too_many_tries";
        asks.value = true;
        secret.value = "";
      },
    );
  };
  const canShare = typeof navigator.share === "function";
  return (
    <div class="stack other-phone">
      <h2>{t("other-phone")}</h2>
      <p>{t("other-phone-how")}</p>
      {code && !over && (
        <div class="stack">
          <p class="code">{grouped(code.token)}</p>
          <img class="qr" alt={t("qr-alt")} src={`data:image/svg+xml;utf8,${encodeURIComponent(code.qr_svg)}`} />
          <p class="typed">{code.link}</p>
          <p>{t("code-good-until", { at: at(code.expires_at) })}</p>
          <ol class="steps">
            <li>{t("other-phone-install")}</li>
            <li>{t("other-phone-type")}</li>
          </ol>
          <div class="buttons">
            <button class="button" onClick={() => void copy(code.link).then((done) => done && say(t("link-copied")))}>
              {t("copy-link")}
            </button>
            {canShare && (
              <button class="button" onClick={() => void navigator.share({ url: code.link }).catch(() => undefined)}>
                {t("send-link")}
              </button>
            )}
          </div>
        </div>
      )}
      {over && <p class="notice-line">{t("code-over")}</p>}
      {asks.value && (
        <div class="field">
          <label>
            <span class="label">{t("proof-secret")}</span>
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
          {t(wrong.value)}
        </p>
      )}
      {(!code || over) && (
        <button class="button" disabled={asks.value && !secret.value} onClick={make}>
          {t("make-code")}
        </button>
      )}
    </div>
  );
}

const MB = 1024 * 1024;

/** Whether the phone promised to keep what is here, and how much room there is. */
function Kept() {
  const photos = useSignal(0);
  useEffect(() => {
    void look();
    db.photoRows().then(
      (rows) => (photos.value = rows.filter((row) => !row.sent).length),
      () => undefined,
    );
  }, []);
  const now = room.value;
  return (
    <div class="stack">
      <h2>{t("on-this-phone")}</h2>
      {almostFull.value && <p class="notice-line bad">{t("almost-full-how")}</p>}
      <p>{t(lasting.value ? "kept-promised" : "kept-not-promised")}</p>
      {now && (
        <p class="quiet">
          {t("room-used", {
            used: Math.ceil(now.used / MB),
            share: Math.max(1, Math.round((now.used / now.quota) * 100)),
          })}
        </p>
      )}
      {photos.value > 0 && <p class="quiet">{t("photos-waiting", { count: photos.value })}</p>}
      {!lasting.value && (
        <button class="button" onClick={() => void askToKeep().then(() => !lasting.peek() && say(t("kept-not-given")))}>
          {t("kept-ask")}
        </button>
      )}
    </div>
  );
}

/** What a new device must show when it comes to trust the shop's own authority: the other side to compare with. */
function Trust() {
  const status = useSignal<TlsStatus | undefined>(undefined);
  useEffect(() => {
    tlsStatus().then(
      (answer) => (status.value = answer),
      () => undefined,
    );
  }, []);
  const { fingerprint, authority, onboarding } = status.value ?? {};
  if (!fingerprint || !authority) return null;
  return (
    <div class="stack">
      <h2>{t("trust")}</h2>
      <p>{t("trust-how", { authority })}</p>
      <p class="code small">{fingerprint}</p>
      {onboarding && <p class="typed">{onboarding}</p>}
    </div>
  );
}

function Devices() {
  const devices = useSignal<Device[] | undefined>(undefined);
  const own = me.value?.person;
  useEffect(() => {
    auth.devices().then(
      (answer) => (devices.value = answer.devices.filter((one) => one.person === own)),
      () => undefined,
    );
  }, [own]);
  return (
    <div class="stack">
      <h2>{t("devices")}</h2>
      {!devices.value && <p class="quiet">{t("devices-later")}</p>}
      <ul class="rows">
        {devices.value?.map((one) => (
          <li key={one.session} class="apart">
            <span>
              {one.device} {one.display && <em>{t("device-wall")} </em>}
              {one.mine && <strong>{t("this-one")}</strong>}
              <br />
              <span class="quiet small">
                {one.from && `${t("device-from", { shop: one.from })} `}
                {t("seen-at", { at: at(one.seen_at) })}
              </span>
            </span>
            {!one.mine && (
              <button
                class="button"
                onClick={() =>
                  void auth
                    .forgetDevice(one.session)
                    .then(() => (devices.value = devices.value?.filter((other) => other !== one)), failed)
                }
              >
                {t("sign-out-device")}
              </button>
            )}
          </li>
        ))}
      </ul>
    </div>
  );
}

const PASSWORD_MIN = 10;

function Password() {
  const current = useSignal("");
  const next = useSignal("");
  const others = useSignal(true);
  const refused = useSignal("");
  return (
    <form
      class="stack"
      onSubmit={(event) => {
        event.preventDefault();
        refused.value = "";
        auth.setPassword(next.value, current.value || undefined, others.value).then(
          () => {
            current.value = next.value = "";
            say(t("saved"));
          },
          (error: unknown) => {
            const word = error instanceof Failure ? `password-${error.code}` : "";
            if (has(word)) refused.value = word;
            else failed(error);
          },
        );
      }}
    >
      <h2>{t("password")}</h2>
      <div class="field">
        <label>
          <span class="label">{t("password-now")}</span>
          <input
            type="password"
            autocomplete="current-password"
            value={current.value}
            onInput={(event) => (current.value = event.currentTarget.value)}
          />
        </label>
      </div>
      <div class="field">
        <label>
          <span class="label">{t("password-new", { count: PASSWORD_MIN })}</span>
          <input
            type="password"
            autocomplete="new-password"
            value={next.value}
            onInput={(event) => (next.value = event.currentTarget.value)}
          />
        </label>
      </div>
      <label class="choice">
        <input type="checkbox" checked={others.value} onChange={() => (others.value = !others.value)} />
        {t("password-end-others")}
      </label>
      {refused.value && (
        <p class="notice-line bad" role="alert">
          {t(refused.value)}
        </p>
      )}
      <button class="button" disabled={next.value.length < PASSWORD_MIN}>
        {t("save")}
      </button>
    </form>
  );
}
