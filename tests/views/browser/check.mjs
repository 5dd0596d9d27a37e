// Checks pages: node check.mjs CHROMIUM MODULES OUT page.html ...
// Prints one JSON object: per page what the validator, the accessibility checker and each width found.
// OUT is a folder for screenshots and the printed A4 sheet, or "-" for none.
import { createRequire } from "node:module";
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { basename, join, resolve } from "node:path";
import { pathToFileURL } from "node:url";

const [chromium, modules, out, ...pages] = process.argv.slice(2);
const require = createRequire(join(resolve(modules), "any.cjs"));
const puppeteer = require("puppeteer-core");
const { HtmlValidate } = require("html-validate");
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");

const WIDTHS = { phone: 390, laptop: 1280, paper: 794 };
const validator = new HtmlValidate({
  root: true,
  extends: ["html-validate:standard", "html-validate:a11y"],
  rules: { "no-inline-style": "off" }, // the drawing library styles its strokes in place
});

const profile = mkdtempSync(join(tmpdir(), "optiform-browser-"));
const browser = await puppeteer.launch({
  executablePath: chromium,
  userDataDir: profile,
  args: ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync"],
});
const found = {};
try {
  for (const path of pages) {
    const name = basename(path, ".html");
    const report = await validator.validateFile(path);
    const faults = report.results.flatMap((result) =>
      result.messages.map((m) => `${m.line}:${m.column} ${m.ruleId}: ${m.message}`));
    const tab = await browser.newPage();
    const outside = [], failures = [];
    tab.on("request", (request) => { if (!request.url().startsWith("file:")) outside.push(request.url()); });
    tab.on("pageerror", (error) => failures.push(String(error)));
    tab.on("console", (message) => { if (message.type() === "error") failures.push(message.text()); });
    const widths = {};
    for (const [device, width] of Object.entries(WIDTHS)) {
      await tab.setViewport({ width, height: 900, deviceScaleFactor: device === "phone" ? 2 : 1 });
      await tab.goto(pathToFileURL(resolve(path)).href, { waitUntil: "load" });
      const height = await tab.evaluate(() => document.documentElement.scrollHeight);
      if (out !== "-") await tab.screenshot({ path: join(out, `${name}-${device}-first.png`), fullPage: true });
      await tab.evaluate(() => { location.hash = "everything"; }); // a phone opens the parts of a page from its contents
      const folded = await tab.evaluate(() => [...document.querySelectorAll(".part")].filter((part) => !part.offsetHeight).length);
      widths[device] = await tab.evaluate(() => ({
        overflow: document.documentElement.scrollWidth - window.innerWidth,
        scrolling: [...document.querySelectorAll(".scroll")].filter((part) => part.scrollWidth > part.clientWidth + 1)
          .map((part) => part.getAttribute("aria-label")),
        pictures: [...document.querySelectorAll("svg.picture")].filter((svg) => svg.getBoundingClientRect().width).map((svg) => {
          const edge = svg.getBoundingClientRect();
          const scale = edge.width / svg.viewBox.baseVal.width;
          const words = [...svg.querySelectorAll("text")];
          return {
            width: edge.width,
            smallest: Math.min(...words.map((text) => parseFloat(getComputedStyle(text).fontSize) * scale)),
            cut: words.filter((text) => {
              const box = text.getBoundingClientRect();
              return box.left < edge.left - 2 || box.right > edge.right + 2 || box.top < edge.top - 2 || box.bottom > edge.bottom + 2;
            }).map((text) => text.textContent),
            overlapping: words.flatMap((one, k) => words.slice(k + 1).filter((other) => {
              const a = one.getBoundingClientRect(), b = other.getBoundingClientRect();
              const across = Math.min(a.right, b.right) - Math.max(a.left, b.left);
              const down = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
              return across > 2 && down > 4 * scale;
            }).map((other) => `${one.textContent} / ${other.textContent}`)),
          };
        }),
      }));
      Object.assign(widths[device], { height, folded });
      if (out !== "-") await tab.screenshot({ path: join(out, `${name}-${device}.png`), fullPage: true });
    }
    await tab.evaluate(axe);
    const result = await tab.evaluate(() => window.axe.run(document, { resultTypes: ["violations"] }));
    const violations = result.violations.map((v) => `${v.id}: ${v.help} (${v.nodes.length}) ${v.nodes[0].html.slice(0, 160)}`);
    if (out !== "-") await tab.pdf({ path: join(out, `${name}.pdf`), preferCSSPageSize: true, printBackground: true });
    found[name] = { faults, violations, outside, failures, widths };
    await tab.close();
  }
} finally {
  await browser.close();
  rmSync(profile, { recursive: true, force: true, maxRetries: 5 });
}
console.log(JSON.stringify(found, null, 1));
