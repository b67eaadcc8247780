// Every screen of the client, for the router in lib/, and the words for what was done on them.

import account from "./account.js";
import board from "./board.js";
import catchUp from "./catchup.js";
import checks, { round } from "./checks.js";
import correct from "./correct.js";
import cut from "./cut_off.js";
import group from "./group.js";
import home from "./home.js";
import lesson from "./lesson.js";
import { useLetterforms } from "./letterforms.js";
import log, { change } from "./log.js";
import placement from "./placement.js";
import { checkSheet, cover, logSheet, practice, printing, register, words } from "./print.js";
import pupil, { find } from "./pupil.js";
import sample from "./sample.js";
import savedFile from "./saved_file.js";
import school from "./school.js";
import second from "./second.js";
import settings from "./settings.js";
import sitting from "./sitting.js";
import waiting from "./waiting.js";

useLetterforms();

export { inLine } from "./done.js";

export default [
  ...account,
  cut,
  home,
  school,
  log,
  change,
  lesson,
  board,
  group,
  catchUp,
  printing,
  register,
  words,
  cover,
  checks,
  round,
  sitting,
  correct,
  second,
  sample,
  checkSheet,
  logSheet,
  find,
  pupil,
  practice,
  placement,
  waiting,
  settings,
  savedFile,
];
