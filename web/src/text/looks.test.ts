import { expect, test } from "vitest";
import { COLOURS, SHAPES, chosen, look, offered } from "./looks";

test("what is known is said in the reader's language, whichever it was typed in", () => {
  expect(look("dark green wagon", "es").said).toBe("vagoneta verde oscuro");
  expect(look("Maroon  Coupe", "es").said).toBe("cupé guinda");
  expect(look("white pickup", "es").said).toBe("pickup blanca");
  expect(look("sedán negro", "en").said).toBe("black sedan");
  expect(look("gray coupé", "en").said).toBe("grey coupe");
  for (const colour of COLOURS)
    for (const shape of SHAPES) {
      const english = `${colour.en} ${shape.en}`;
      const there = look(english, "es");
      expect(look(there.said, "en")).toEqual({ said: english, paint: colour.paint });
    }
});

test("what is not known stays as it was typed, with its colour if one is named", () => {
  expect(look("Grey wagon, roof box", "es")).toEqual({ said: "Grey wagon, roof box", paint: "#7d8084" });
  expect(look("dark green delivery van with ladder", "es")).toEqual({
    said: "dark green delivery van with ladder",
    paint: "#143d25",
  });
  expect(look("redwood hauler", "en").paint).toBeUndefined();
  expect(look("", "en")).toEqual({ said: "", paint: undefined });
});

test("what is chosen is found again, in either language", () => {
  expect(chosen("vagoneta gris")).toEqual({ colour: "grey", shape: "wagon" });
  expect(chosen("guinda")).toEqual({ colour: "maroon", shape: "" });
  expect(chosen("sedán")).toEqual({ colour: "", shape: "sedan" });
  expect(chosen("dark green delivery van")).toBeUndefined();
  expect(offered("es").shapes[0]).toEqual(["sedan", "sedán"]);
});
