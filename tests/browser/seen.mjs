// What stands on the screen before anybody scrolls: how many words, and whether a part of it is seen whole.

/** Words that are seen: runs between spaces with a letter in them; names for readers of the screen are not counted. */
export const wordsSeen = (page, at = "main") =>
  page.locator(at).evaluate((of) => {
    const bar = document.querySelector("nav.bar")?.getBoundingClientRect();
    const end = !of.closest("dialog") && bar && bar.top > innerHeight / 2 ? bar.top : innerHeight;
    let count = 0;
    const texts = document.createTreeWalker(of, NodeFilter.SHOW_TEXT);
    for (let text = texts.nextNode(); text; text = texts.nextNode()) {
      if (text.parentElement.closest(".visually-hidden, details:not([open]) > :not(summary)")) continue;
      const range = document.createRange();
      range.selectNodeContents(text);
      const box = range.getBoundingClientRect();
      if (!box.width || box.top >= end || box.bottom <= 0) continue;
      count += text.textContent.split(/\s+/).filter((word) => /\p{L}/u.test(word)).length;
    }
    return count;
  });

/** Its lower edge is above the bar, or above the end of the screen where the bar is on top, and nothing lies on its middle. */
export const seenWhole = (of) =>
  of.evaluate((one) => {
    const bar = document.querySelector("nav.bar")?.getBoundingClientRect();
    const end = !one.closest("dialog") && bar && bar.top > innerHeight / 2 ? bar.top : innerHeight;
    const box = one.getBoundingClientRect();
    const on = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
    return box.width > 0 && box.top >= 0 && box.bottom <= end + 1 && (one.contains(on) || (on?.contains(one) ?? false));
  });

/** How far it is wider than the screen, in px; a sheet is measured by itself. */
export const tooWide = (page) =>
  page.evaluate(() => {
    const of = document.querySelector("dialog[open]") ?? document.documentElement;
    return of.scrollWidth - of.clientWidth;
  });

/** Letters of the usual or of twice the size, as somebody sets it in the browser. */
export async function letters(page, large) {
  const client = await page.context().newCDPSession(page);
  await client.send("Page.setFontSizes", { fontSizes: { standard: large ? 32 : 16, fixed: large ? 26 : 13 } });
}

/** The vehicle of the demo whose suspension is down while its seam is sealed. */
export const theOpenOne = (docs) => Object.values(docs).find((doc) => doc?.open?.some((one) => one.open.includes("suspension")));

export const linkOf = (server, who) => Object.entries(server.links).find(([name]) => name.endsWith(who))[1];
