/**
 * The little that pages do by themselves. Every page works without it; with it, hands stay on the keys.
 *
 * - keys.js: single keys and short sequences, declared on the elements they act on
 * - rows.js: up and down in a list or a register
 * - scan.js: a scanner is a fast keyboard; tells its bursts from typing
 * - choices.js: what this computer remembers: single keys on or off, light or dark
 * - copy.js: a line to the clipboard
 */
import { listen } from "./keys.js";
import { rows } from "./rows.js";
import { choices } from "./choices.js";
import { copying } from "./copy.js";

listen({ ...rows(document) }, choices(document));
copying(document);
