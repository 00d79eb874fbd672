// Where the words of a trip line stand: keys in, promise, late and ready always somewhere, equipment and holds where there
// is paper beside their line. Nothing stands on a line, on another word, or outside.
// Pure. Must not know: what the words say, the DOM.
import { placeWords, segmentsOf, wide, type Box, type Segment, type Word } from "./labels";
import type { Stroke, TripDrawing } from "./trip-geometry";

export interface TripTexts {
  keysIn: string;
  promise?: string | undefined;
  late?: string | undefined;
  end?: string | undefined;
  /** As the drawing lists them. */
  holds: readonly string[];
  equipment: readonly string[];
  breaks: readonly string[];
}

/** Letters of a drawing (charts.css): how large, how high with what hangs below the line, and where the line is in it. */
export const LETTERS = { size: 15, height: 16, base: 12 };

/** How thick strokes are drawn (charts.css). */
export const THICK: Record<Stroke, number> = {
  worked: 9,
  waiting: 2.25,
  turn: 2.25,
  planned: 5,
  planned_wait: 2,
  planned_turn: 2,
};

/** Everything that is drawn with a line, for words to keep clear of. */
export function strokesOf(drawing: TripDrawing): Segment[] {
  const { end, promise, late } = drawing;
  const out = [...drawing.lines, ...drawing.second].flatMap((line) => segmentsOf(line.d, THICK[line.stroke]));
  const bar = (x: number, y1: number, y2: number, thick: number): void =>
    void out.push({ x1: x, y1, x2: x, y2, thick });
  if (promise) bar(promise.x, promise.top, promise.bottom, 1.5);
  if (late) out.push({ x1: late.x1, y1: late.y + 5, x2: late.x2, y2: late.y + 5, thick: 8 });
  bar(drawing.keysIn.x, drawing.keysIn.y - 11, drawing.keysIn.y + 11, 3.5);
  if (end) bar(end.x, end.y - 11, end.y + 11, 3.5);
  for (const hold of drawing.holds) bar(hold.x, hold.y - 9, hold.y + 9, 3);
  out.push({ x1: 0, y1: drawing.axisY, x2: drawing.width, y2: drawing.axisY, thick: 1.5 });
  return out;
}

/** What is there already: now, the promise's head, and the words of the breaks, which have their gaps in the line. */
export function takenIn(drawing: TripDrawing, texts: TripTexts): Box[] {
  const out: Box[] = drawing.breaks.map((one, i) => {
    const width = wide(texts.breaks[i] ?? "", 14) + 16;
    return { x: one.x - 22, y: one.y - 9, width, height: 18 };
  });
  if (drawing.now) out.push({ x: drawing.now.x - 10, y: drawing.now.y - 10, width: 20, height: 20 });
  if (drawing.promise) out.push({ x: drawing.promise.x - 5, y: drawing.promise.top - 7, width: 10, height: 8 });
  return out;
}

export function placeTripWords(drawing: TripDrawing, texts: TripTexts, gutter: number): Map<string, Box> {
  const { width: W, end, promise } = drawing;
  const word = (id: string, text: string, places: (width: number) => Word["places"]): Word => {
    const width = wide(text, LETTERS.size);
    return { id, width, height: LETTERS.height, places: places(width) };
  };
  /** Near `x` first, then ever further to both sides. */
  const along = (x: number, y: number, width: number, least = 2): { x: number; y: number }[] => {
    const most = W - 2 - width;
    const out = [Math.min(most, Math.max(least, x))];
    for (let away = 8; away <= W; away += 8) out.push(x - away, x + away);
    return out.filter((one) => one >= least && one <= most).map((one) => ({ x: one, y }));
  };
  const [line1, line2, line3] = [1, 19, 36] as const;
  const words: Word[] = [word("keysIn", texts.keysIn, (width) => [{ x: 2, y: line1 }, ...along(2, line1, width)])];
  if (promise && texts.promise)
    words.push(
      word("promise", texts.promise, (width) => [
        ...along(texts.late ? promise.x - 7 - width : promise.x - width / 2, line2, width),
        ...along(promise.x, line1, width),
        ...along(promise.x, line3, width),
      ]),
    );
  if (promise && texts.late)
    words.push(
      word("late", texts.late, (width) => [
        ...along(promise.x + 8, line2, width),
        ...along(promise.x + 8, line1, width),
        ...along(promise.x + 8, line3, width),
      ]),
    );
  if (end && texts.end) {
    words.push(
      word("end", texts.end, (width) => {
        const [below, above] = [end.y + 13, end.y - 13 - LETTERS.height];
        const near = [
          ...along(end.x - width / 2, below, width, gutter),
          ...along(end.x - width / 2, above, width, gutter),
        ].filter((at) => Math.abs(at.x + width / 2 - end.x) <= width + 40);
        return [
          ...near,
          ...along(end.x - width / 2, drawing.axisY - LETTERS.height - 3, width),
          ...along(end.x - width, line1, width),
          ...along(end.x - width, line2, width),
          ...along(end.x - width, line3, width),
        ];
      }),
    );
  }
  const beside =
    (x: number, y: number) =>
    (width: number): Word["places"] =>
      [8, 0, 16, 24, 40, 56].flatMap((dx) =>
        [y + 8, y - 8 - LETTERS.height, y + 18].map((at) => ({ x: Math.min(x + dx, W - 2 - width), y: at })),
      );
  drawing.holds.forEach((hold, i) => words.push(word(`hold ${i}`, texts.holds[i] ?? "", beside(hold.x, hold.y))));
  drawing.equipment.forEach((one, i) =>
    words.push(word(`equipment ${i}`, texts.equipment[i] ?? "", beside(one.x - 8, one.y - 20))),
  );
  return placeWords(words, strokesOf(drawing), { x: 0, y: 0, width: W, height: drawing.axisY }, [
    { x: 0, y: TOP_WORDS, width: gutter, height: Math.max(0, drawing.axisY - TOP_WORDS) },
    ...takenIn(drawing, texts),
  ]);
}

/** Below it the names of the levels stand at the left. */
const TOP_WORDS = 66;

/** A name on at most two lines, neither wider than need be. */
export function twoLines(name: string, most: number): string[] {
  if (wide(name, LETTERS.size) <= most) return [name];
  const words = name.split(" ");
  const cuts = words.slice(1).map((_, i) => [words.slice(0, i + 1).join(" "), words.slice(i + 1).join(" ")]);
  const widest = (lines: string[]): number => Math.max(...lines.map((line) => wide(line, LETTERS.size)));
  return cuts.sort((a, b) => widest(a) - widest(b))[0] ?? [name];
}
