/* From when a hive may be opened, from what was ticked at it and never from the plan. Pure: times are milliseconds, null is "not known".
   The same rule as treatments/open_from.py; both are held against tests/treatments/open_from.json. */
(() => {
  "use strict";

  const MINUTE = 60000;
  const known = (moment) => moment !== null && moment !== undefined;

  const isOut = (one, moment) => [one.drawn, one.opened].some((tick) => known(tick) && tick <= moment);
  const running = (moment, ticks) =>
    ticks.filter((one) => known(one.started) && one.started <= moment && !isOut(one, moment)).length;

  // How many heaters were surely in use before a start: the most that were in hives at the same time.
  function mostAtOnce(before, ticks) {
    const starts = ticks.map((one) => one.started).filter((start) => known(start) && start < before);
    return Math.max(0, ...starts.map((moment) => running(moment, ticks)));
  }

  // Whether all heaters were in use before, and this start takes none beside those.
  function surelyWarm(start, ticks, heaters) {
    const seen = mostAtOnce(start, ticks);
    return seen >= heaters && seen >= running(start, ticks);
  }

  function heated(one, ticks, minutes) {
    if (!known(one.started) || one.loads !== 1 || !known(minutes.first) || !known(minutes.following)) return null;
    const warm = surelyWarm(one.started, ticks, minutes.heaters);
    return one.started + MINUTE * (warm ? minutes.following : Math.max(minutes.first, minutes.following));
  }

  function timesOf(one, ticks, minutes) {
    const through = heated(one, ticks, minutes);
    const ends = known(through) ? [through] : [];
    if (known(one.drawn)) ends.push(one.drawn - (known(through) ? MINUTE * minutes.wait : 0));
    return {
      drawFrom: known(through) ? through + MINUTE * minutes.wait : null,
      openFrom: ends.length ? MINUTE * Math.ceil((Math.max(...ends) + MINUTE * minutes.sealed) / MINUTE) : null,
    };
  }

  function openTimes(ticks, minutes) {
    return new Map(ticks.map((one) => [one.hive, timesOf(one, ticks, minutes)]));
  }

  window.recount = { ...window.recount, openTimes };
})();
