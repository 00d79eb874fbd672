// Starts the app: theme and language before the first paint, the kept copy from the database, then sync.
import "./ui/base.css";
import "./ui/floor/floor.css";
import { render } from "preact";
import { App } from "./ui/app";
import { startRouter } from "./ui/kit/router";
import { keepSteady } from "./ui/kit/steady";
import { start } from "./start";

startRouter();
keepSteady();
const root = document.getElementById("app");
// What could not be read is not shown; the app is there all the same.
if (root)
  void start()
    .catch(() => undefined)
    .then(() => render(<App />, root));
