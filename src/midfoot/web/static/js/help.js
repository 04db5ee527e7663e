/** The help page lists the keys that work everywhere. */
import { listKeys } from "./keys.js";

const list = document.getElementById("key-list");
if (list) listKeys(list);
