// Signs of what a hand must know of a vehicle: drawn marks, each with its word. Looked at, or pressed to say more.
import "./signs.css";
import type { Condition } from "../../api/types";
import { signs, type SignName, type SignState } from "../../model/signs";
import { t } from "../../state";

/** 40 × 30, the front of the vehicle at the right. */
const MARKS: Record<SignName, string> = {
  points: "M3 8H37M12 8 17 19H7ZM28 8 33 19H23ZM12 19V26M28 19V26M5 26H19M21 26H35",
  weight: "M20 14V26M12 26H28",
  rolls: "M17 4a10 10 0 1 0 .01 0ZM17 11a3 3 0 1 0 .01 0ZM4 26H36M31 9H38M32 15H38",
  steers: "M20 3a12 12 0 1 0 .01 0ZM20 11a4 4 0 1 0 .01 0ZM8 14H16M24 14H32M20 19V27",
  loose: "M13 2H27L30 6 27 10H13L10 6ZM17 10V20M23 10V20M17 14H23M17 18H23M4 26H15M25 26H36",
};

/** A beam that hangs to the side that still has its weight. */
const BEAM: Record<string, string> = {
  on: "M5 14H35M4 4H13V14H4ZM27 4H36V14H27Z",
  front: "M5 18 35 10M4 8H13V17H4Z",
  rear: "M5 10 35 18M27 8H36V17H27Z",
  both: "M5 14H35",
};

const word = ({ name, says, count }: SignState): string =>
  t(`sign-${name}-${says}`, count === undefined ? {} : { count });

function Tile({ sign }: { sign: SignState }) {
  const { name, is, says } = sign;
  return (
    <>
      <svg viewBox="0 0 40 30" width="40" height="30" aria-hidden="true">
        <path d={name === "weight" ? `${MARKS.weight}${BEAM[says]}` : MARKS[name]} />
        {is === "bad" && name !== "weight" && name !== "loose" && <path class="no" d="M5 28 35 2" />}
      </svg>
      <span>{word(sign)}</span>
    </>
  );
}

/** `press`: each is a button that opens its choices; `open`: whose stand open. */
export function Signs({
  of,
  open,
  press,
}: {
  of: Condition;
  open?: SignName | undefined;
  press?: (name: SignName) => void;
}) {
  return (
    <ul class="signs">
      {signs(of).map((sign) => (
        <li key={sign.name}>
          {press ? (
            <button class={`sign-tile ${sign.is}`} aria-expanded={open === sign.name} onClick={() => press(sign.name)}>
              <Tile sign={sign} />
            </button>
          ) : (
            <div class={`sign-tile ${sign.is}`}>
              <Tile sign={sign} />
            </div>
          )}
        </li>
      ))}
    </ul>
  );
}
