import { describe, expect, it } from "vitest";
import { sinceWhen, type Seen } from "./steady";

const at = (says: string, x: number, y: number, scrolled = 0): Omit<Seen, "since"> => ({
  says,
  window: { x, y: y - scrolled },
  page: { x, y },
});

describe("since when something stands where it stands", () => {
  const take: Seen = { ...at("Take", 10, 300), since: 1_000 };

  it("is now for what is new, says something else, or came from elsewhere", () => {
    expect(sinceWhen(undefined, at("Take", 10, 300), 5_000)).toBe(5_000);
    expect(sinceWhen(take, at("Finish", 10, 300), 5_000)).toBe(5_000);
    expect(sinceWhen(take, at("Take", 10, 240), 5_000)).toBe(5_000);
    expect(sinceWhen(take, at("Take", 200, 300), 5_000)).toBe(5_000);
  });

  it("is as before for what stays under the finger, or is moved by the finger's own scrolling", () => {
    expect(sinceWhen(take, at("Take", 10, 310), 5_000)).toBe(1_000);
    expect(sinceWhen(take, at("Take", 10, 300, 250), 5_000)).toBe(1_000);
    // The browser holds what is read in its place when something comes in above it.
    expect(sinceWhen(take, at("Take", 10, 420, 120), 5_000)).toBe(1_000);
  });
});
