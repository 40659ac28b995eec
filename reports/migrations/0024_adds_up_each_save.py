"""What every save asks, adds up and writes stands in the database: planned once for each connection (apiaries.in_database)."""

from django.db import migrations

from apiaries.in_database import InDatabase

AROUND = InDatabase(
    "counts_around",
    "the_keys uuid[], the_colonies bigint[], the_yards bigint[], since date, the_day date, first date, last date",
    "TABLE (moved boolean, id bigint, colony_id bigint, yard_id bigint, method varchar, sampled_on date, mites integer, bees integer, bees_by varchar, board_days numeric, cells_counted integer, cells_total integer, estimated boolean, stands boolean, entry_key uuid)",
    """
#variable_conflict use_column
BEGIN
  RETURN QUERY SELECT moves.moved, s.id, s.colony_id, s.yard_id, s.method, s.sampled_on, s.mites, s.bees, s.bees_by,
         s.board_days, s.cells_counted, s.cells_total, s.rate IS NOT NULL, s.voided_at IS NULL, s.entry_key
    FROM (SELECT EXISTS (SELECT FROM apiaries_colonymove
                          WHERE colony_id = ANY(the_colonies) AND moved_on > the_day) AS moved) AS moves
    LEFT JOIN counts_mitesample s
      ON s.entry_key = ANY(the_keys)
      OR s.colony_id = ANY(the_colonies) AND s.sampled_on BETWEEN since AND the_day
      OR s.yard_id = ANY(the_yards) AND s.sampled_on BETWEEN first AND last;
END
""",
    one_plan=True,
)
SUMS = InDatabase(
    "sums_of_month",
    "the_yard bigint, the_month date",
    "TABLE (yard_id bigint, region_id bigint, keeper_id bigint, month date, kind integer, brood integer, last_on date, samples integer, colonies integer, zeros integer, mites bigint, bees bigint, exposure float8, exposure_squared float8, mites_squared float8, mites_squared_per_exposure float8, spread float8, given date[])",
    """
#variable_conflict use_column
BEGIN
  RETURN QUERY SELECT sums.*, ARRAY(SELECT given_on FROM (
SELECT t.yard_id, r.given_on
  FROM treatments_treatment t
  JOIN treatments_round r ON r.treatment_id = t.id
 WHERE r.given_on IS NOT NULL AND t.cancelled_at IS NULL
   AND NOT t.application_id = ANY(ARRAY(
         SELECT id FROM treatments_application WHERE ingredient = ANY('{drone_brood_removal, queen_caging}')))
   AND t.yard_id = the_yard
) AS given)
    FROM (
WITH of_colony AS (
  SELECT s.yard_id, date_trunc('month', s.sampled_on::timestamp)::date AS month,
         CASE s.method WHEN 'alcohol_wash' THEN 0 WHEN 'soap_wash' THEN 0 WHEN 'sugar_roll' THEN 1 WHEN 'co2' THEN 1 WHEN 'board' THEN 2 END AS kind, s.colony_id,
         max(s.sampled_on) AS last_on, count(*) AS samples, count(*) FILTER (WHERE s.mites = 0) AS zeros,
         sum(s.mites)::float8 AS mites, sum(s.bees) AS bees, sum(s.exposure) AS exposure,
         sum(s.exposure * s.exposure * s.squared_cv) AS spread,
         bool_or(s.brood IN ('some', 'plenty')) AS brood, bool_or(s.brood = 'none') AS no_brood
    FROM counts_mitesample s
   WHERE s.voided_at IS NULL AND s.exposure > 0 AND s.refusal = ''
     AND s.yard_id = the_yard
     AND s.sampled_on >= the_month AND s.sampled_on < the_month + interval '1 month'
   GROUP BY 1, 2, 3, 4
), of_yard AS (
  SELECT yard_id, month, kind, bool_or(brood) AS brood, bool_or(no_brood) AS no_brood, max(last_on) AS last_on,
         sum(samples) AS samples, count(*) AS colonies, sum(zeros) AS zeros, sum(mites) AS mites, sum(bees) AS bees,
         sum(exposure) AS exposure, sum(exposure * exposure) AS exposure_squared, sum(mites * mites) AS mites_squared,
         sum(mites * mites / exposure) AS mites_squared_per_exposure, sum(spread) AS spread
    FROM of_colony
   GROUP BY 1, 2, 3
)
SELECT m.yard_id, y.region_id, y.keeper_id, m.month, m.kind,
       CASE WHEN m.brood = m.no_brood THEN 0 WHEN m.brood THEN 1 ELSE 2 END,
       m.last_on, m.samples::int, m.colonies::int, m.zeros::int, m.mites::bigint, COALESCE(m.bees, 0)::bigint,
       m.exposure, m.exposure_squared, m.mites_squared, m.mites_squared_per_exposure, m.spread
  FROM of_yard m JOIN apiaries_yard y ON y.id = m.yard_id
) AS sums;
END
""",
    one_plan=True,
)
PUT = InDatabase(
    "put_month",
    "the_yard bigint, the_month date, the_rows json",
    "void",
    """
BEGIN
  INSERT INTO reports_regionmonthmark (region_id, month, marked_at)
  SELECT region_id, the_month, now() FROM apiaries_yard WHERE id = the_yard;
  DELETE FROM reports_yardmonth WHERE yard_id = the_yard AND month = the_month
     AND NOT kind = ANY(ARRAY(SELECT one->>'kind' FROM json_array_elements(the_rows) AS one));
  INSERT INTO reports_yardmonth (yard_id, region_id, keeper_id, month, kind, brood, treated_days, samples, colonies, zeros, mites, bees, exposure, squared_cv)
  SELECT yard_id, region_id, keeper_id, month, kind, brood, treated_days, samples, colonies, zeros, mites, bees, exposure, squared_cv FROM json_populate_recordset(NULL::reports_yardmonth, the_rows)
  ON CONFLICT (yard_id, month, kind) DO UPDATE SET region_id = EXCLUDED.region_id, keeper_id = EXCLUDED.keeper_id, brood = EXCLUDED.brood, treated_days = EXCLUDED.treated_days, samples = EXCLUDED.samples, colonies = EXCLUDED.colonies, zeros = EXCLUDED.zeros, mites = EXCLUDED.mites, bees = EXCLUDED.bees, exposure = EXCLUDED.exposure, squared_cv = EXCLUDED.squared_cv;
END
""",
    writes=True,
    one_plan=True,
)
FUNCTIONS = (AROUND, SUMS, PUT)


class Migration(migrations.Migration):
    dependencies = [
        ("reports", "0023_asked_for_each_page"),
        ("counts", "0009_row_policies_ask_once"),
        ("treatments", "0012_row_policies_ask_once"),
        ("apiaries", "0022_yards_of_regions"),
    ]

    operations = [migrations.RunSQL(function.sql, function.undone) for function in FUNCTIONS]
