// Where the client begins.

import screens, { inLine } from "../screens/index.js";
import { app, begin, forgetDrawers } from "./client.js";
import { route } from "./router.js";

const place = document.getElementById("screen");
if (place) {
  begin(route(place, screens, app, forgetDrawers), inLine);
}
