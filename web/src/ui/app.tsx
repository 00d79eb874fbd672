// The frame around every screen: what is not sent, where one can go, and which screen is shown.
import type { ComponentChildren, ComponentType } from "preact";
import { useEffect, useRef } from "preact/hooks";
import { wasRefused } from "../core/cases";
import {
  cursor,
  loadWords,
  me,
  myself,
  notices,
  noticesRead,
  orders,
  reach,
  sentAgain,
  shared,
  t,
  told,
  unsent,
  warned,
} from "../state";
import { almostFull } from "../room";
import { lazy, type ScreenProps } from "./kit/lazy";
import { media } from "./kit/media";
import { at } from "../text/sentences";
import { Mine } from "./floor/mine";
import { inTray } from "./floor/in-tray";
import { Queue, queueOf } from "./floor/queue";
import { Said, say, SheetHost } from "./kit/sheet";
import { go, match, path } from "./kit/router";
import { invited, passed } from "./session/session";
import { takeUpdate, updateReady } from "./update";

// One touch away from one's own work, and in the shell's cache by then.
const Vehicle = lazy(async () => {
  const [part] = await Promise.all([import("./floor/vehicle"), loadWords("sheet")]);
  return part.Vehicle;
});
const Vehicles = lazy(async () => {
  const [part] = await Promise.all([import("./floor/vehicles"), loadWords("sheet")]);
  return part.Vehicles;
});
const Shop = lazy(async () => {
  const [part] = await Promise.all([import("./shop"), loadWords("shop")]);
  return part.default;
});
const Setup = lazy(async () => {
  const [part] = await Promise.all([import("./setup"), loadWords("setup"), loadWords("tray")]);
  return part.default;
});
const Tray = lazy(async () => {
  const [part] = await Promise.all([import("./floor/tray"), loadWords("tray")]);
  return part.default;
});
const Notices = lazy(async () => {
  const [part] = await Promise.all([import("./floor/notices"), loadWords("tray")]);
  return part.default;
});
const SignIn = lazy(async () => {
  const { SignIn: Form } = await import("./session/sign-in");
  return () => <Form />;
});
const Me = lazy(async () => {
  const [part] = await Promise.all([import("./session/me"), loadWords("tablet"), loadWords("over")]);
  return part.default;
});
const Over = lazy(async () => {
  const [part] = await Promise.all([import("./session/over"), loadWords("over")]);
  return part.default;
});
const Begin = lazy(async () => {
  const [part] = await Promise.all([import("./setup/begin"), loadWords("setup")]);
  return part.default;
});
const Wall = lazy(async () => (await import("./board/wall")).default);
const PhotoPage = lazy(async () => {
  const [part] = await Promise.all([import("./photo"), loadWords("mark")]);
  return part.default;
});
const Tablet = lazy(async () => {
  const [part] = await Promise.all([import("./session/tablet"), loadWords("tablet")]);
  return part.default;
});

const SCREENS: [string, ComponentType<ScreenProps>][] = [
  ["/", Home],
  ["/sign-in", SignInAgain],
  ["/queue/:department", Queue],
  ["/vehicles", Vehicles],
  ["/vehicle/:id", Vehicle],
  ["/photo/:id", PhotoPage],
  ["/tray", Tray],
  ["/notices", Notices],
  ["/me", Me],
  ["/shop/*", Shop],
  ["/setup/*", Setup],
];

export function App() {
  const where = path.value;
  if (passed.value && !me.value?.display) {
    return (
      <>
        <main id="main">
          <Over params={{}} />
        </main>
        <Said />
      </>
    );
  }
  if (!me.value) {
    return (
      <>
        <main id="main">{shared.value ? <Tablet params={{}} /> : <SignIn params={{}} />}</main>
        <Said />
      </>
    );
  }
  if (me.value.display) return <Wall params={{}} />;
  const [Screen, params] = screenAt(where);
  return (
    <>
      <a class="skip" href="#main">
        {t("skip")}
      </a>
      <Bar where={where} />
      {shared.value && <AtTablet name={me.value.name} />}
      <Status />
      <main id="main" tabIndex={-1}>
        <Panes where={where}>{Screen ? <Screen params={params} key={where} /> : <NoSuchPage />}</Panes>
      </main>
      <Said />
      <SheetHost />
    </>
  );
}

/** Repair orders below which a shop counts as just begun. */
const BEGINS_BELOW = 5;

const roomy = media("(min-width: 43.75rem)");
const LISTS = /^\/($|queue\/|vehicles$)/;

/** Where there is room for both, the list one came from stays beside the vehicle. */
function Panes({ where, children }: { where: string; children: ComponentChildren }) {
  const last = useRef("");
  const vehicle = where.startsWith("/vehicle/");
  if (!vehicle) last.current = LISTS.test(where) ? where : "";
  const [List, params] = screenAt(last.current);
  if (!roomy.value || !vehicle || !last.current) return <>{children}</>;
  return (
    <div class="panes">
      <div class="pane no-print">{List && <List params={params} key={last.current} />}</div>
      <div>{children}</div>
    </div>
  );
}

function screenAt(where: string): [ComponentType<ScreenProps> | undefined, Record<string, string>] {
  for (const [pattern, screen] of SCREENS) {
    const params = match(pattern, where);
    if (params) return [screen, params];
  }
  return [undefined, {}];
}

/** A shop that has just begun says first what it still needs. */
function Home() {
  const begins = myself.value?.role === "admin" && cursor.value > 0 && orders.value.size < BEGINS_BELOW;
  return (
    <>
      {begins && <Begin params={{}} />}
      <Mine />
    </>
  );
}

/** The sign-in has ended while its person goes on working; anybody else goes where work is. */
function SignInAgain() {
  return reach.value.why === "sign_in" ? <SignIn params={{}} /> : <Mine />;
}

function NoSuchPage() {
  return (
    <section class="page">
      <h1>{t("no-such-page")}</h1>
      <a class="button" href="/">
        {t("mine")}
      </a>
    </section>
  );
}

function Bar({ where }: { where: string }) {
  const own = myself.value?.department ?? "";
  const entries: [string, string, string][] = [
    ["/", t("mine"), "/"],
    [`/queue/${queueOf(own)}`, t("queue"), "/queue"],
    ["/vehicles", t("vehicles"), "/vehicle"],
    ["/shop", t("the-shop"), "/shop"],
    ["/me", t("more"), "/me"],
  ];
  return (
    <nav class="bar" aria-label={t("main-places")}>
      {entries.map(([href, label, prefix]) => {
        const here = prefix === "/" ? where === "/" : where.startsWith(prefix);
        return (
          <a href={href} key={href} {...(here ? { "aria-current": "page" as const } : {})}>
            {label}
          </a>
        );
      })}
    </nav>
  );
}

/** Whose the tablet is now, large, and the way to leave it. */
function AtTablet({ name }: { name: string }) {
  const leave = async (): Promise<void> => (await import("./session/unlock")).lock();
  return (
    <div class="at-tablet no-print">
      <strong>{name}</strong>
      <button class="button" onClick={() => void leave().catch(() => say(t("part-not-here")))}>
        {t("lock")}
      </button>
    </div>
  );
}

/** Stays on top until it is no longer so: not sent, not reached, not accepted, told. */
function Status() {
  const waiting = unsent.value.length;
  const now = reach.value;
  const fresh = warned.value + notices.value.filter((one) => one.id > noticesRead.value && !inTray(one)).length;
  const refused = told.value.filter(wasRefused).length;
  const toLookAt = told.value.length - refused;
  useEffect(() => {
    document.title = `${waiting ? `(${waiting}) ` : ""}Turnbuckle`;
  }, [waiting]);
  return (
    <div class="status" role="status">
      {waiting > 0 && (
        <a href="/tray">
          <strong>{t("count-not-sent", { count: waiting })}</strong>
        </a>
      )}
      {!now.live && now.why === "unreached" && <span>{t("not-reached-since", { at: at(now.since) })}</span>}
      {almostFull.value && <a href="/me">{t("almost-full")}</a>}
      {now.why === "error" && <span>{t("server-error")}</span>}
      {now.why === "sign_in" && (
        <a href="/sign-in">{t(waiting ? "sign-in-to-send" : "signed-out-here", { count: waiting })}</a>
      )}
      {now.why === "update" && <span>{t("update-needed")}</span>}
      {refused > 0 && <a href="/tray">{t("count-not-accepted", { count: refused })}</a>}
      {toLookAt > 0 && <a href="/tray">{t("count-to-look-at", { count: toLookAt })}</a>}
      {fresh > 0 && <a href="/notices">{t("count-notices", { count: fresh })}</a>}
      {sentAgain.value > 0 && (
        <button class="button plain" onClick={() => (sentAgain.value = 0)}>
          {t("sent-again", { count: sentAgain.value })} {t("understood")}
        </button>
      )}
      {invited.value && (
        <button class="button" onClick={() => go("/sign-in")}>
          {t("join-instead", { name: me.value?.name ?? "" })}
        </button>
      )}
      {updateReady.value && (
        <button class="button" onClick={takeUpdate}>
          {t("update-ready")}
        </button>
      )}
    </div>
  );
}
