"""What is asked in front of every page stands in the database: planned once for each connection (apiaries.in_database)."""

from django.db import migrations

from apiaries.in_database import InDatabase

SESSION = InDatabase(
    "session_brings_along",
    "the_key text, the_moment timestamptz",
    "TABLE (versions text, session django_session, signin apiaries_signin, person apiaries_person, membership apiaries_membership, club apiaries_club, totp_id bigint, suspension reports_suspension)",
    """
#variable_conflict use_column
BEGIN
  RETURN QUERY SELECT ROW(person.xmin, person.ctid, membership.xmin, membership.ctid, club.xmin, club.ctid, totp.xmin, totp.ctid, suspension.xmin, suspension.ctid)::text, session, signin, person, membership, club, totp.id, suspension
    FROM django_session session
    LEFT JOIN apiaries_signin signin ON signin.session_key = session.session_key
    LEFT JOIN apiaries_person person ON person.id = signin.person_id
    LEFT JOIN apiaries_membership membership ON membership.person_id = person.id AND membership.ended_at IS NULL
    LEFT JOIN apiaries_club club ON club.id = membership.club_id
    LEFT JOIN mfa_authenticator totp ON totp.user_id = person.id AND totp.type = 'totp'
    LEFT JOIN reports_suspension suspension ON suspension.person_id = person.id
    WHERE session.session_key = the_key AND session.expire_date > the_moment;
END
""",
)
YARD = InDatabase(
    "yard_drawn_from",
    "the_yard bigint, the_reader bigint",
    "TABLE (word text, yard_zone text, club_zone text)",
    """
DECLARE
  the_club bigint; the_region bigint; the_keeper bigint;
  the_bees bigint[]; the_treatments bigint[]; the_files bigint[];
BEGIN
  SELECT t.club_id, t.region_id, t.keeper_id, t.time_zone, c.time_zone
    INTO the_club, the_region, the_keeper, yard_zone, club_zone
    FROM apiaries_yard t JOIN apiaries_club c ON c.id = t.club_id WHERE t.id = the_yard;
  IF NOT FOUND THEN
    RETURN;
  END IF;
  the_bees := ARRAY(SELECT id FROM apiaries_colony WHERE yard_id = the_yard UNION SELECT colony_id FROM counts_mitesample WHERE yard_id = the_yard UNION SELECT d.colony_id FROM treatments_dose d JOIN treatments_round r ON r.id = d.round_id JOIN treatments_treatment g ON g.id = r.treatment_id WHERE g.yard_id = the_yard); the_treatments := ARRAY(SELECT r.treatment_id FROM treatments_round r JOIN treatments_dose d ON d.round_id = r.id WHERE d.colony_id = ANY(the_bees) UNION SELECT id FROM treatments_treatment WHERE yard_id = the_yard); the_files := ARRAY(SELECT returnedfile_id FROM reports_returnedfile_yards WHERE yard_id = the_yard);
  word := concat_ws(',',
    (SELECT count(*) || '.' || coalesce(sum(hashtextextended(t.xmin::text || t.ctid::text, 0)), 0) FROM apiaries_yard t WHERE t.id = the_yard),
    (SELECT count(*) || '.' || coalesce(sum(hashtextextended(t.xmin::text || t.ctid::text, 0)), 0) FROM apiaries_club t WHERE t.id = the_club),
    (SELECT count(*) || '.' || coalesce(sum(hashtextextended(t.xmin::text || t.ctid::text, 0)), 0) FROM apiaries_region t WHERE t.id = the_region),
    (SELECT count(*) || '.' || coalesce(sum(hashtextextended(t.xmin::text || t.ctid::text, 0)), 0) FROM apiaries_yardhelper t WHERE t.yard_id = the_yard),
    (SELECT count(*) || '.' || coalesce(sum(hashtextextended(t.xmin::text || t.ctid::text, 0)), 0) FROM apiaries_visit t WHERE t.yard_id = the_yard),
    (SELECT count(*) || '.' || coalesce(sum(hashtextextended(t.xmin::text || t.ctid::text, 0)), 0) FROM apiaries_colony t WHERE t.id = ANY(the_bees)),
    (SELECT count(*) || '.' || coalesce(sum(hashtextextended(t.xmin::text || t.ctid::text, 0)), 0) FROM apiaries_colonychange t WHERE t.colony_id = ANY(the_bees) OR t.other_id = ANY(the_bees)),
    (SELECT count(*) || '.' || coalesce(sum(hashtextextended(t.xmin::text || t.ctid::text, 0)), 0) FROM apiaries_person t WHERE t.id IN (the_reader, the_keeper) OR t.id = ANY(ARRAY(SELECT inspector_id FROM apiaries_visit WHERE yard_id = the_yard))),
    (SELECT count(*) || '.' || coalesce(sum(hashtextextended(t.xmin::text || t.ctid::text, 0)), 0) FROM apiaries_membership t WHERE t.person_id IN (the_reader, the_keeper) OR t.person_id = ANY(ARRAY(SELECT person_id FROM apiaries_yardhelper WHERE yard_id = the_yard)) OR t.id = ANY(ARRAY(SELECT membership_id FROM apiaries_membership_regions WHERE region_id = the_region))),
    (SELECT count(*) || '.' || coalesce(sum(hashtextextended(t.xmin::text || t.ctid::text, 0)), 0) FROM apiaries_membership_regions t WHERE t.region_id = the_region),
    (SELECT count(*) || '.' || coalesce(sum(hashtextextended(t.xmin::text || t.ctid::text, 0)), 0) FROM counts_mitesample t WHERE t.colony_id = ANY(the_bees)),
    (SELECT count(*) || '.' || coalesce(sum(hashtextextended(t.xmin::text || t.ctid::text, 0)), 0) FROM counts_actionlevel t WHERE true),
    (SELECT count(*) || '.' || coalesce(sum(hashtextextended(t.xmin::text || t.ctid::text, 0)), 0) FROM counts_countweek t WHERE t.club_id = the_club),
    (SELECT count(*) || '.' || coalesce(sum(hashtextextended(t.xmin::text || t.ctid::text, 0)), 0) FROM counts_countleftout t WHERE t.yard_id = the_yard),
    (SELECT count(*) || '.' || coalesce(sum(hashtextextended(t.xmin::text || t.ctid::text, 0)), 0) FROM treatments_treatment t WHERE t.id = ANY(the_treatments)),
    (SELECT count(*) || '.' || coalesce(sum(hashtextextended(t.xmin::text || t.ctid::text, 0)), 0) FROM treatments_recount t WHERE t.treatment_id = ANY(the_treatments)),
    (SELECT count(*) || '.' || coalesce(sum(hashtextextended(t.xmin::text || t.ctid::text, 0)), 0) FROM treatments_round t WHERE t.treatment_id = ANY(the_treatments)),
    (SELECT count(*) || '.' || coalesce(sum(hashtextextended(t.xmin::text || t.ctid::text, 0)), 0) FROM treatments_dose t WHERE t.colony_id = ANY(the_bees)),
    (SELECT count(*) || '.' || coalesce(sum(hashtextextended(t.xmin::text || t.ctid::text, 0)), 0) FROM treatments_application t WHERE true),
    (SELECT count(*) || '.' || coalesce(sum(hashtextextended(t.xmin::text || t.ctid::text, 0)), 0) FROM treatments_yardoutlook t WHERE t.yard_id = the_yard),
    (SELECT count(*) || '.' || coalesce(sum(hashtextextended(t.xmin::text || t.ctid::text, 0)), 0) FROM reports_putoff t WHERE t.person_id = the_reader),
    (SELECT count(*) || '.' || coalesce(sum(hashtextextended(t.xmin::text || t.ctid::text, 0)), 0) FROM reports_returnedfile_yards t WHERE t.yard_id = the_yard),
    (SELECT count(*) || '.' || coalesce(sum(hashtextextended(t.xmin::text || t.ctid::text, 0)), 0) FROM reports_returnedfile t WHERE t.id = ANY(the_files)),
    (SELECT count(*) || '.' || coalesce(sum(hashtextextended(t.xmin::text || t.ctid::text, 0)), 0) FROM apiaries_person t WHERE t.id = ANY(ARRAY(SELECT person_id FROM reports_returnedfile WHERE id = ANY(the_files)))));
  RETURN NEXT;
END
""",
)
FUNCTIONS = (SESSION, YARD)


class Migration(migrations.Migration):
    dependencies = [
        ("sessions", "0001_initial"),
        ("mfa", "0003_authenticator_type_uniq"),
        ("apiaries", "0022_yards_of_regions"),
        ("counts", "0009_row_policies_ask_once"),
        ("treatments", "0012_row_policies_ask_once"),
        ("reports", "0022_work_done"),
    ]

    operations = [migrations.RunSQL(function.sql, function.undone) for function in FUNCTIONS]
