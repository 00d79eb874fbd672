// What one sees of a vehicle, said in the reader's language. Stored is what somebody typed or chose ("grey wagon"); where all of
// its words are known it is said in the other language too, else it stays as it was typed. Its colour is drawn beside it: as the
// vehicle's own, never as a state.

type Gender = "m" | "f";

interface Colour {
  en: string;
  /** As with "el sedán", and as with "la camioneta". */
  es: [string, string];
  paint: string;
}

interface Shape {
  en: string;
  es: string;
  gender: Gender;
}

const same = (es: string): [string, string] => [es, es];
const ends = (stem: string): [string, string] => [`${stem}o`, `${stem}a`];

/** In the order in which they are offered. */
export const COLOURS: readonly Colour[] = [
  { en: "white", es: ends("blanc"), paint: "#ffffff" },
  { en: "black", es: ends("negr"), paint: "#111111" },
  { en: "grey", es: same("gris"), paint: "#7d8084" },
  { en: "silver", es: ends("platead"), paint: "#c3c7cb" },
  { en: "dark grey", es: same("gris oscuro"), paint: "#45484c" },
  { en: "red", es: ends("roj"), paint: "#c3161c" },
  { en: "maroon", es: same("guinda"), paint: "#6b1420" },
  { en: "blue", es: same("azul"), paint: "#1f5fb5" },
  { en: "dark blue", es: same("azul oscuro"), paint: "#15294f" },
  { en: "pale blue", es: same("azul claro"), paint: "#9cc3e0" },
  { en: "green", es: same("verde"), paint: "#2b7a3d" },
  { en: "dark green", es: same("verde oscuro"), paint: "#143d25" },
  { en: "yellow", es: ends("amarill"), paint: "#f0c419" },
  { en: "orange", es: same("naranja"), paint: "#e2711d" },
  { en: "gold", es: ends("dorad"), paint: "#b9984b" },
  { en: "tan", es: same("beige"), paint: "#c8ad83" },
  { en: "brown", es: same("café"), paint: "#5d4029" },
  { en: "purple", es: ends("morad"), paint: "#56307a" },
];

export const SHAPES: readonly Shape[] = [
  { en: "sedan", es: "sedán", gender: "m" },
  { en: "coupe", es: "cupé", gender: "m" },
  { en: "hatchback", es: "hatchback", gender: "m" },
  { en: "wagon", es: "vagoneta", gender: "f" },
  { en: "crossover", es: "crossover", gender: "f" },
  { en: "minivan", es: "minivan", gender: "f" },
  { en: "van", es: "van", gender: "f" },
  { en: "pickup", es: "pickup", gender: "f" },
  { en: "crew-cab pickup", es: "pickup doble cabina", gender: "f" },
  { en: "convertible", es: "convertible", gender: "m" },
  { en: "box truck", es: "camión de caja", gender: "m" },
];

/** What else people write for them. */
const ALSO: Readonly<Record<string, string>> = {
  gray: "grey",
  "dark gray": "dark grey",
  beige: "tan",
  "light blue": "pale blue",
  burgundy: "maroon",
  coupé: "coupe",
  truck: "pickup",
};

export interface Look {
  /** As one says it in that language; what was typed, where not all of it is known. */
  said: string;
  /** A CSS colour, if the colour is known. */
  paint?: string | undefined;
}

const folded = (text: string): string => text.trim().toLowerCase().replace(/\s+/g, " ");
const gendered = (colour: Colour, shape: Shape): string => colour.es[shape.gender === "m" ? 0 : 1];

export function look(typed: string, language: string): Look {
  const text = folded(typed);
  const english = (colour: Colour, shape: Shape): string => `${colour.en} ${shape.en}`;
  const spanish = (colour: Colour, shape: Shape): string => `${shape.es} ${gendered(colour, shape)}`;
  const known = reading(text);
  if (known) return { said: (language === "es" ? spanish : english)(...known), paint: known[0].paint };
  return { said: typed, paint: longest(text)?.paint };
}

/** What can be chosen: what each colour and shape is called alone. */
export const offered = (language: string): { colours: [string, string][]; shapes: [string, string][] } => ({
  colours: COLOURS.map((colour) => [colour.en, language === "es" ? colour.es[0] : colour.en]),
  shapes: SHAPES.map((shape) => [shape.en, language === "es" ? shape.es : shape.en]),
});

/** Which of these a text says, by their English names; nothing, if it says anything else too. */
export function chosen(typed: string): { colour: string; shape: string } | undefined {
  const text = plain(folded(typed));
  const known = reading(text);
  if (known) return { colour: known[0].en, shape: known[1].en };
  const colour = COLOURS.find((one) => [one.en, ...one.es].includes(text));
  const shape = SHAPES.find((one) => [one.en, one.es].includes(text));
  return text === "" || colour || shape ? { colour: colour?.en ?? "", shape: shape?.en ?? "" } : undefined;
}

const pairs = new Map<string, [Colour, Shape]>();

/** Both parts, if the text is just these two. */
function reading(text: string): [Colour, Shape] | undefined {
  if (!pairs.size)
    for (const colour of COLOURS)
      for (const shape of SHAPES) {
        pairs.set(`${colour.en} ${shape.en}`, [colour, shape]);
        pairs.set(`${shape.es} ${gendered(colour, shape)}`, [colour, shape]);
      }
  return pairs.get(text) ?? pairs.get(plain(text));
}

/** With the usual word for every other one. */
const plain = (text: string): string =>
  Object.entries(ALSO).reduce(
    (sum, [also, usual]) => sum.replace(new RegExp(`(^| )${also}( |$)`), `$1${usual}$2`),
    text,
  );

/** The colour that is named in it, the longest name first ("dark green" is not "green"). */
function longest(text: string): Colour | undefined {
  const words = ` ${plain(text)} `;
  const names = COLOURS.flatMap((colour) => [colour.en, ...colour.es].map((name) => ({ name, colour })));
  return names.filter(({ name }) => words.includes(` ${name} `)).sort((a, b) => b.name.length - a.name.length)[0]
    ?.colour;
}
