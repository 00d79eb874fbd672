import { db } from "./db";
import { longOver } from "./db/long-over";
import type { Plan } from "./api/types";
import {
  cursor,
  me,
  notices,
  noticesRead,
  plan,
  setDocs,
  setLanguage,
  setOffset,
  setRows,
  shared,
  startClock,
  tray,
} from "./state";
import { watchRoom } from "./room";
import { applyTheme, wantedLanguage } from "./ui/kit/prefs";
import { followLanguage, readInvitation, resume } from "./ui/session/session";
import { registerWorker } from "./ui/update";

/** Shows what this phone knows, before anything is asked of the network. */
export async function start(): Promise<void> {
  applyTheme();
  readInvitation();
  const [, isShared, signed, position, kept, docs, rows, notAccepted, told, read, measured] = await Promise.all([
    setLanguage(wantedLanguage()),
    db.get<boolean>("shared"),
    db.signedIn(),
    db.position(),
    db.get<Plan>("plan"),
    db.docs(),
    db.outbox(),
    db.tray(),
    db.notices(),
    db.get<number>("notices_read"),
    db.get<number>("offset"),
  ]);
  if (measured !== undefined) setOffset(measured);
  // A tablet that several people share is locked when it starts.
  shared.value = isShared ?? false;
  if (!isShared) me.value = signed;
  startClock();
  cursor.value = position?.cursor ?? 0;
  plan.value = kept;
  const old = longOver(docs, rows, Date.now() + (measured ?? 0));
  setDocs(old.size ? docs.filter(({ key }) => !old.has(key)) : docs);
  // Clearing up waits for another start where it does not go.
  if (old.size) void db.dropDocs(old).catch(() => undefined);
  setRows(rows);
  tray.value = notAccepted;
  notices.value = isShared ? [] : told;
  noticesRead.value = read ?? 0;
  addEventListener("hashchange", readInvitation);
  followLanguage();
  registerWorker();
  watchRoom();
  void resume().catch(() => undefined);
  void import("./ui/kit/call").then(
    ({ watchCalls }) => watchCalls(),
    () => undefined,
  );
  void db.trimJournal(Date.now()).catch(() => undefined);
}
