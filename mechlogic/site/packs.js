"use strict";

/** A file of the site, unpacked; refused if it is not the one that this page was built with. */
async function unpacked(page, name, type = "application/octet-stream") {
  const answer = await fetch(new URL(`files/${name}.pack`, page.base), { integrity: page.packs[name] });
  const stream = answer.body.pipeThrough(new DecompressionStream("gzip"));
  return new Response(stream, { headers: { "Content-Type": type } });
}

/** The address of a script of the site, unpacked. */
async function scriptUrl(page, name, before = "") {
  const text = await (await unpacked(page, name)).text();
  return URL.createObjectURL(new Blob([before, text], { type: "text/javascript" }));
}
