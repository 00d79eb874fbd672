// A shared tablet while nobody is at it: faces, the PIN of one of them, somebody new.
import "./tablet.css";
import { useEffect, useLayoutEffect, useRef } from "preact/hooks";
import { useSignal } from "@preact/signals";
import type { SignedIn } from "../../api/types";
import { db, type PersonHere } from "../../db";
import { held, reach, shop, t, unsent } from "../../state";
import { at } from "../../text/sentences";
import { ByPasskey } from "./passkey/enter";
import { go } from "../kit/router";
import { enter, invited, refused, withoutPin } from "./session";
import { SignIn } from "./sign-in";
import { has } from "../../text/words";
import { PIN_MAX, PIN_MIN } from "./pin";
import { choosePin, lockedBecause, unlock, watch, type Unlocked } from "./unlock";

watch();

export default function Tablet() {
  const chosen = useSignal<PersonHere | undefined>(undefined);
  const adding = useSignal(false);
  const fresh = withoutPin.value;
  if (fresh) return <Choose signed={fresh} />;
  if (invited.value || adding.value) {
    return (
      <section class="page">
        <h1>{t("add-somebody")}</h1>
        <p>{t("add-somebody-how")}</p>
        <SignIn part onBack={() => ((adding.value = false), (invited.value = undefined))} />
      </section>
    );
  }
  if (chosen.value?.signed?.role === "admin")
    return <ByPassword who={chosen.value} onBack={() => (chosen.value = undefined)} />;
  if (chosen.value) return <Enter who={chosen.value} onBack={() => (chosen.value = undefined)} />;
  return <Faces onChoose={(who) => (chosen.value = who)} onAdd={() => (adding.value = true)} />;
}

export function initials(name: string): string {
  const words = name.trim().split(/\s+/);
  return [words[0], words.length > 1 ? words.at(-1) : ""]
    .map((word) => [...(word ?? "")][0] ?? "")
    .join("")
    .toUpperCase();
}

function Faces({ onChoose, onAdd }: { onChoose: (who: PersonHere) => void; onAdd: () => void }) {
  const people = useSignal<PersonHere[] | undefined>(undefined);
  useEffect(() => {
    db.peopleHere().then(
      (all) => (people.value = all.filter((one) => one.signed).sort((a, b) => a.name.localeCompare(b.name))),
      () => undefined,
    );
  }, []);
  const why = lockedBecause.value;
  return (
    <section class="page wide">
      <div class="status">
        {unsent.value.length > 0 && <strong>{t("count-not-sent", { count: unsent.value.length })}</strong>}
        {!reach.value.live && reach.value.why === "unreached" && (
          <span>{t("not-reached-since", { at: at(reach.value.since) })}</span>
        )}
      </div>
      <h1>{t("who-is-there")}</h1>
      {shop.value && <p class="quiet">{shop.value.name}</p>}
      {why && (
        <p class="notice-line bad" role="alert">
          {t(why)}
        </p>
      )}
      <ul class="faces">
        {people.value?.map((one) => (
          <li key={one.person}>
            <button class="face" onClick={() => onChoose(one)}>
              <span class="initials" aria-hidden="true">
                {initials(one.name)}
              </span>
              <span>{one.name}</span>
              <Held person={one.person} />
            </button>
          </li>
        ))}
        <li>
          <button class="face" onClick={onAdd}>
            <span class="initials" aria-hidden="true">
              +
            </span>
            <span>{t("add-somebody")}</span>
          </button>
        </li>
      </ul>
    </section>
  );
}

/** Work of this person that nobody else's sign-in can send. */
function Held({ person }: { person: string }) {
  const count = unsent.value.filter((row) => row.person === person && held.value.has(row.client)).length;
  return count > 0 ? <strong class="held">{t("held-face", { count })}</strong> : null;
}

function Enter({ who, onBack }: { who: PersonHere; onBack: () => void }) {
  const said = useSignal<Exclude<Unlocked, "in"> | undefined>(undefined);
  const busy = useSignal(false);
  const until = useSignal(0);
  const clock = useSignal(Date.now());
  useEffect(() => {
    if (until.value <= clock.value) return undefined;
    const timer = setInterval(() => (clock.value = Date.now()), 1_000);
    return () => clearInterval(timer);
  }, [until.value, clock.value]);
  const left = Math.ceil((until.value - clock.value) / 1_000);
  const enter = async (pin: string): Promise<void> => {
    busy.value = true;
    const answer = await unlock(who.person, pin);
    busy.value = false;
    if (answer === "in") return;
    said.value = answer;
    if (typeof answer === "object") {
      clock.value = Date.now();
      until.value = clock.value + answer.wait;
    }
  };
  const words = busy.value
    ? t("pin-looking")
    : left > 0
      ? t("pin-wait", { count: left })
      : typeof said.value === "string"
        ? t(`pin-${said.value}`)
        : said.value
          ? t("pin-wrong")
          : "";
  return (
    <section class="page pin">
      <h1 class="who">{who.name}</h1>
      <Pad
        label={t("pin")}
        onEnter={(pin) => void enter(pin)}
        words={words}
        bad={said.value !== undefined}
        locked={busy.value || left > 0}
      />
      <button class="button full" onClick={onBack}>
        {t("not-me")}
      </button>
    </section>
  );
}

/** An administrator: no digits open what they may do. */
function ByPassword({ who, onBack }: { who: PersonHere; onBack: () => void }) {
  const password = useSignal("");
  const busy = useSignal(false);
  const why = refused.value;
  return (
    <form
      class="page pin stack"
      onSubmit={(event) => {
        event.preventDefault();
        busy.value = true;
        void enter(who.name, password.value).then((went) => {
          busy.value = false;
          password.value = "";
          if (went) go("/", true);
        });
      }}
    >
      <h1 class="who">{who.name}</h1>
      <p>{t("admin-password-how")}</p>
      {why && (
        <p class="notice-line bad" role="alert">
          {t(has(`sign-in-${why}`) ? `sign-in-${why}` : "sign-in-error")}
        </p>
      )}
      <div class="field">
        <label>
          <span class="label">{t("password")}</span>
          <input
            type="password"
            autocomplete="current-password"
            value={password.value}
            onInput={(event) => (password.value = event.currentTarget.value)}
          />
        </label>
      </div>
      <button class="button main full" disabled={!password.value || busy.value}>
        {t("sign-in")}
      </button>
      <ByPasskey
        busy={busy.value}
        run={async (signIn) => {
          busy.value = true;
          const went = await signIn();
          busy.value = false;
          if (went) go("/", true);
        }}
      />
      <button class="button full" type="button" onClick={onBack}>
        {t("not-me")}
      </button>
    </form>
  );
}

function Choose({ signed }: { signed: SignedIn }) {
  const first = useSignal("");
  const said = useSignal("");
  const busy = useSignal(false);
  const enter = async (pin: string): Promise<void> => {
    if (!first.value) {
      first.value = pin;
      said.value = "";
      return;
    }
    if (first.value !== pin) {
      first.value = "";
      said.value = t("pin-differs");
      return;
    }
    busy.value = true;
    const answer = await choosePin(signed, pin);
    busy.value = false;
    if (answer === "in") return;
    first.value = "";
    said.value = t(answer === "unreached" ? "not-reached-now" : answer === "late" ? "pin-late" : "pin-refused");
  };
  return (
    <section class="page pin">
      <h1 class="who">{signed.name}</h1>
      <p>{t("pin-choose", { from: PIN_MIN, to: PIN_MAX })}</p>
      <Pad
        key={first.value ? "again" : "first"}
        label={t(first.value ? "pin-again" : "pin-new")}
        onEnter={(pin) => void enter(pin)}
        words={busy.value ? t("pin-looking") : said.value}
        bad={said.value !== ""}
        locked={busy.value}
      />
      {first.value && (
        <button class="button full" onClick={() => (first.value = "")}>
          {t("pin-other")}
        </button>
      )}
    </section>
  );
}

const KEYS = ["1", "2", "3", "4", "5", "6", "7", "8", "9", "back", "0", "enter"] as const;

/** Keys for gloves; a keyboard works too. */
function Pad({
  label,
  onEnter,
  words,
  bad,
  locked,
}: {
  label: string;
  onEnter: (pin: string) => void;
  words: string;
  bad: boolean;
  locked: boolean;
}) {
  const pin = useSignal("");
  const press = (key: string): void => {
    if (locked) return;
    if (key === "back") pin.value = pin.value.slice(0, -1);
    else if (key === "enter") {
      if (pin.value.length < PIN_MIN) return;
      const typed = pin.value;
      pin.value = "";
      onEnter(typed);
    } else if (pin.value.length < PIN_MAX) pin.value += key;
  };
  const now = useRef(press);
  now.current = press;
  // Before the next key can come.
  useLayoutEffect(() => {
    const type = (event: KeyboardEvent): void => {
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      if (/^\d$/.test(event.key)) now.current(event.key);
      else if (event.key === "Backspace") now.current("back");
      // Enter on a key of the pad presses that key.
      else if (event.key === "Enter" && !(event.target as Element).closest?.("button")) now.current("enter");
    };
    addEventListener("keydown", type);
    return () => removeEventListener("keydown", type);
  }, []);
  const count = pin.value.length;
  return (
    <div class="pad-box">
      <p class="pad-line">
        <span>{label}</span>
        <span class="dots" role="status" aria-label={t("pin-digits", { count })}>
          {"●".repeat(count)}
          {"○".repeat(Math.max(0, PIN_MIN - count))}
        </span>
      </p>
      <p class={bad ? "notice-line bad" : "pad-words"} role="alert" hidden={!words}>
        {words}
      </p>
      <div class="pad">
        {KEYS.map((key) => (
          <button
            key={key}
            class={key === "enter" ? "button main" : "button"}
            disabled={locked || (key === "enter" && count < PIN_MIN)}
            onClick={() => press(key)}
            {...(key === "back" ? { "aria-label": t("pin-back") } : {})}
          >
            {key === "back" ? "⌫" : key === "enter" ? t("pin-enter") : key}
          </button>
        ))}
      </div>
    </div>
  );
}
