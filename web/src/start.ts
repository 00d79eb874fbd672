import { db } from "./db";
import type { Plan } from "./api/types";
import { cursor, me, notices, noticesRead, plan, setDocs, setLanguage, setRows, startClock, tray } from "./state";
import { applyTheme, wantedLanguage } from "./ui/prefs";

/** Shows what this phone knows, before anything is asked of the network. */
export async function start(): Promise<void> {
  applyTheme();
  startClock();
  const [, signed, position, kept, docs, rows, notAccepted, told, read] = await Promise.all([
    setLanguage(wantedLanguage()),
    db.signedIn(),
    db.position(),
    db.get<Plan>("plan"),
    db.docs(),
    db.outbox(),
    db.tray(),
    db.notices(),
    db.get<number>("notices_read"),
  ]);
  me.value = signed;
  cursor.value = position?.cursor ?? 0;
  plan.value = kept;
  setDocs(docs);
  setRows(rows);
  tray.value = notAccepted;
  notices.value = told;
  noticesRead.value = read ?? 0;
}
