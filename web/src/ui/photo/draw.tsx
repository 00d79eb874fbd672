// Marks over a picture: each line twice, a broad white one under a dark one, so that it is seen on every
// picture without any colour.
import type { Mark, Marked } from "../../api/types";
import { arrowPath, ellipse, LETTER, lettering, WIDE } from "./geometry";

function Shape({ mark, tall }: { mark: Mark; tall: number }) {
  if (mark.kind === "arrow") {
    const path = arrowPath(mark, tall);
    return (
      <>
        <path class="under" d={path} />
        <path class="over" d={path} />
      </>
    );
  }
  if (mark.kind === "circle") {
    const round = ellipse(mark, tall);
    return (
      <>
        <ellipse class="under" {...round} />
        <ellipse class="over" {...round} />
      </>
    );
  }
  const { x, y, lines, anchor } = lettering(mark, tall);
  return (
    <text class="letters" x={x} y={y} text-anchor={anchor} font-size={LETTER}>
      {lines.map((line, i) => (
        <tspan key={i} x={x} dy={i ? LETTER * 1.15 : 0}>
          {line}
        </tspan>
      ))}
    </text>
  );
}

/** What a circle, an arrow or words mean is said beside the picture; here it is drawn. */
export function Marks({ of, tall }: { of: readonly Pick<Marked, "marks">[]; tall: number }) {
  return (
    <svg class="marks-over" viewBox={`0 0 ${WIDE} ${tall}`} aria-hidden="true">
      {of.map((own, i) => (
        <g key={i}>
          {own.marks.map((mark, j) => (
            <Shape key={j} mark={mark} tall={tall} />
          ))}
        </g>
      ))}
    </svg>
  );
}
