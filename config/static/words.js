/* The words of the scripts in the language of the page. The English stands in the scripts and is what is looked up. The table of
   another language comes from /words/ (config/script_words.py), which base.html names where the page needs one; without it the
   English stands. Loaded before every other script. */
(() => {
  "use strict";

  const ENGLISH = {
    words: {},
    months: ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"],
    day: "{day} {month} {year}",
    month: "{month} {year}",
  };
  const language = document.documentElement.lang || "en-gb";
  const numbers = new Intl.NumberFormat(language);
  const plural = new Intl.PluralRules(language);
  const table = () => globalThis.wordTable ?? ENGLISH; // asked each time: the table is a file after this one

  const filled = (text, values) => text.replace(/\{(\w+)\}/g, (whole, name) => (Object.hasOwn(values, name) ? String(values[name]) : whole));
  const monthOf = (date) => table().months[date.getUTCMonth()];

  /* inWords("Open from {time}", { time }): the sentence in the language of the page, with its values put in. */
  globalThis.inWords = (message, values = {}) => filled(table().words[message] ?? message, values);

  /* The sentence for one or for many; {n} in it is the number. */
  globalThis.inWordsMany = (one, many, number, values = {}) => {
    const forms = table().words[one] ?? [one, many];
    return filled(forms[plural.select(number) === "one" ? 0 : 1], { n: numbers.format(number), ...values });
  };

  /* A day as the pages write it: 12 Aug 2026, of its moment in UTC. */
  globalThis.dayInWords = (date) => filled(table().day, { day: date.getUTCDate(), month: monthOf(date), year: date.getUTCFullYear() });

  /* A month as the pages write it: Aug 2026. */
  globalThis.monthInWords = (date) => filled(table().month, { month: monthOf(date), year: date.getUTCFullYear() });
})();
