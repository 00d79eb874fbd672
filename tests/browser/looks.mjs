// What can be read of a page without a person: how many words, how large, what is cut or lies on something else.

/** Words that can be seen: each has a letter. What is said to readers of the screen alone is not counted. */
export const wordsIn = (page, selector = "#main") =>
  page.locator(selector).first().evaluate((root) => {
    const walk = document.createTreeWalker(root, NodeFilter.SHOW_TEXT);
    let count = 0;
    for (let node = walk.nextNode(); node; node = walk.nextNode()) {
      const at = node.parentElement;
      if (at.closest(".visually-hidden, option, title, details:not([open]) > :not(summary)") || at.getClientRects().length === 0) continue;
      count += (node.data.match(/[\p{L}\p{N}'’-]*\p{L}[\p{L}\p{N}'’-]*/gu) ?? []).length;
    }
    return count;
  });

/** The smallest letters that can be seen, in pixels of the screen. */
export const smallestIn = (page, selector = "body") =>
  page.locator(selector).first().evaluate((root) => {
    const walk = document.createTreeWalker(root, NodeFilter.SHOW_TEXT);
    let least = { size: Infinity, text: "" };
    for (let node = walk.nextNode(); node; node = walk.nextNode()) {
      const at = node.parentElement;
      if (!node.data.trim() || at.closest(".visually-hidden, option, title, script, style") || at.getClientRects().length === 0) continue;
      const size = parseFloat(getComputedStyle(at).fontSize);
      if (size < least.size) least = { size, text: node.data.trim() };
    }
    return least;
  });

/** Texts that are wider than their place, or reach beyond the window. */
export const cutIn = (page, selector) =>
  page.locator(selector).evaluateAll((all) =>
    all
      .filter((one) => one.getClientRects().length > 0)
      .filter((one) => {
        const { left, right, top, bottom } = one.getBoundingClientRect();
        return one.scrollWidth > one.clientWidth + 1 || left < -1 || right > innerWidth + 1 || top < -1 || bottom > innerHeight + 1;
      })
      .map((one) => one.textContent.trim()),
  );

/** The plan and the forecast as this page's sign-in may read them, and how late each vehicle is as planned, by number. */
export const planned = (page) =>
  page.evaluate(async () => {
    let plan;
    for (let after = 0, more = true; more; ) {
      const pulled = await fetch(`/api/v1/sync/pull?after=${after}`).then((answer) => answer.json());
      plan = pulled.plan ?? plan;
      [after, more] = [pulled.to, pulled.more];
    }
    const { vehicles } = await fetch("/api/v1/forecast").then((answer) => answer.json());
    const minutes = new Map(plan.vehicles.map((one) => [one.order, one.late_minutes]));
    return vehicles.map((one) => ({ ...one, late: (minutes.get(one.order) ?? 0) > 0 }));
  });
