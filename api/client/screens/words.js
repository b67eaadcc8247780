// Codes of the API as people say them. A code nobody knows here is shown as it is, readable.

/** @type {{[code: string]: string}} */
const WORDS = {
  delivered: "Taught",
  part: "Taught in part",
  retaught: "Taught again",
  not_delivered: "Not taught",
  present: "Here",
  late: "Late",
  absent: "Away",
  right: "Right",
  wrong: "Wrong",
  no_response: "No response",
  not_offered: "Not asked",
  spoken: "says it aloud",
  choosing: "chooses among options",
  communication_aid: "uses a communication aid",
  sign: "signs",
  eye_gaze: "answers by eye gaze",
  written: "writes",
  gpc_recognition: "Sounds for letters",
  oral_blending: "Blending spoken sounds",
  word_reading: "Reading words",
  pseudo_word_reading: "Reading made-up words",
  spelling: "Spelling",
  exception_word_reading: "Reading common exception words",
  sentence_reading: "Reading sentences",
  practice_check: "Practice check",
  left_to_do: "To do",
  under_way: "Under way",
  done: "Done",
  absent_today: "Away today",
  exempt: "Left out of this round",
  not_accessible: "Not accessible this way",
  in_holiday: "The day is in a holiday.",
  on_weekend: "The day is at the weekend.",
  on_closed_day: "The day is a closed one, or that half of it is.",
  not_in_timetable: "The timetable of that day has no such lesson.",
  nobody_comes: "Nobody comes on that weekday.",
  absent_not_expected: "Who was marked absent was not expected then: nothing counts as missed.",
  nobody_in_group: "Nobody was in the group that day.",
  inset: "a staff training day",
  closure: "a closed day",
  trip: "a trip",
  not_due: "a day without a lesson for this group",
  weekend: "the weekend",
  holiday: "a holiday",
  out_of_year: "outside the school year",
  kind_unknown: "Nothing in this lesson makes words.",
  none_of_the_kind: "No word fits this lesson yet.",
  too_little_taught: "Too little was taught for words yet.",
  no_gpcs: "Nothing was taught yet.",
  no_words: "No words can be made yet of what was taught.",
  no_sentences: "No sentences can be made yet of what was taught.",
  often_wrong: "often wrong",
  missed: "missed",
  due: "due again",
  fill: "for practice",
  settled: "The place is known closely enough.",
  enough_asked: "Enough was asked.",
  stopped: "Several answers running were not right, so it stopped.",
  ended: "It was ended early.",
  not_found: "It is not there any more, or it is not yours to see.",
  forbidden: "Your role does not allow this, or the group is not yours on that day.",
  set_aside: "You set it aside: it was not sent, and the school’s server has it only if somebody enters it.",
  "lesson.record": "Lesson record",
  "lesson.delete": "Deleting a lesson record",
  "catch_up.record": "Catch-up",
  "catch_up.delete": "Taking catch-up back",
  "sitting.begin": "Beginning a check",
  "sitting.answer": "An answer in a check",
  "sitting.undo": "Taking an answer back",
  "sitting.pause": "Pausing a check",
  "sitting.resume": "Going on with a check",
  "sitting.finish": "Finishing a check",
  "response.correct": "Correcting an answer",
};

/**
 * @param {string | null | undefined} code
 * @returns {string}
 */
export const say = (code) => (code ? (WORDS[code] ?? code.replace(/[._]/g, " ")) : "");

/** How a grapheme-phoneme correspondence stands for a pupil: its heading, what it means, its mark. */
export const STANDINGS = [
  { code: "secure", title: "Secure", mark: "■", means: "Right on enough separate days, by the school’s rule." },
  { code: "revisit", title: "To revisit", mark: "↻", means: "Was secure, and was not right when asked last." },
  { code: "missed", title: "Missed", mark: "○", means: "Taught while this child was away." },
  { code: "not_yet_secure", title: "Not yet secure", mark: "◧", means: "Checked, and more right days are needed." },
  { code: "not_asked", title: "Taught, not checked", mark: "□", means: "No check has asked for it since." },
  { code: "unknown", title: "Unknown", mark: "?", means: "Nothing is known of it, and that is not “no”." },
];

/**
 * "1 pupil", "2 pupils".
 * @param {number} n
 * @param {string} one
 * @param {string} [many]
 */
export const count = (n, one, many = one + "s") => `${n} ${n === 1 ? one : many}`;

/**
 * "first" of 1. Of a day's lessons, which are never numbered: a number is a lesson's in its step.
 * @param {number} n
 */
export const nth = (n) => ["first", "second", "third", "fourth"][n - 1] ?? `${n}th`;

/**
 * Where a lesson stands in the sequence.
 * @param {{step: number, lesson: number}} place
 */
export const lessonOf = ({ step, lesson }) => `lesson ${lesson} of step ${step}`;

/**
 * A correspondence as people read it: "ai" of "ai:eɪ", "a–e" of "a_e:eɪ".
 * @param {string} gpc
 */
export const grapheme = (gpc) => spelled(gpc.split(":")[0] ?? gpc);

/**
 * A grapheme, or words with some in them, with the gap of a split digraph shown.
 * @param {string} letters
 */
export const spelled = (letters) => letters.replaceAll("_", "–");
