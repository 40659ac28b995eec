"""Row-level security: the second lock before treatments and the medicine record. The first is the gates in code."""

from django.db import migrations

from apiaries.row_policies import KEEPERS, YARDS_KEPT, YARDS_SEEN, no_policies, policies

OF_A_TREATMENT = "EXISTS (SELECT FROM treatments_treatment t WHERE t.id = treatment_id)"
OF_A_ROUND = "EXISTS (SELECT FROM treatments_round r WHERE r.id = round_id)"
# table: whose rows a reader sees, whose they add and change. What is under lock the service alone writes.
RULES = {
    "treatments_treatment": (f"yard_id {YARDS_SEEN}", f"yard_id {YARDS_KEPT}"),
    "treatments_round": (OF_A_TREATMENT, OF_A_TREATMENT),
    "treatments_dose": (OF_A_ROUND, OF_A_ROUND),
    "treatments_medicinepurchase": (f"keeper_id {KEEPERS}", f"keeper_id {KEEPERS}"),
    "treatments_medicinedisposal": (f"keeper_id {KEEPERS}", f"keeper_id {KEEPERS}"),
}
LOCKED = """
CREATE FUNCTION treatments_locked_of_reader() RETURNS bigint[]
LANGUAGE sql STABLE PARALLEL SAFE SECURITY DEFINER SET search_path = pg_catalog, public, pg_temp AS $$
  SELECT ARRAY(
    SELECT l.lockedentry_id FROM public.treatments_lockedentry_regions l
    JOIN public.apiaries_membership_regions r USING (region_id)
    JOIN public.apiaries_membership m ON m.id = r.membership_id
    WHERE m.person_id = public.apiaries_reader() AND m.ended_at IS NULL AND m.role = 'inspector'
  )
$$;
"""


class Migration(migrations.Migration):
    dependencies = [("treatments", "0010_chain_says_what_it_uses"), ("apiaries", "0018_row_policies")]

    operations = [
        *(
            migrations.RunSQL(policies(name, seen=seen, kept=kept), no_policies(name))
            for table, (seen, kept) in RULES.items()
            for name in (table, f"{table}event")
        ),
        migrations.RunSQL(LOCKED, "DROP FUNCTION treatments_locked_of_reader()"),
        migrations.RunSQL(
            policies(
                "treatments_lockedentry",
                seen="id IN (SELECT unnest(treatments_locked_of_reader()))",
                kept="false",
            ),
            no_policies("treatments_lockedentry"),
        ),
    ]
