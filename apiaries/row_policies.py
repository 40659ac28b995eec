"""SQL of row-level security, for migrations alone. What a migration took from here never changes: add beside it.

Who reads is asked once for each statement, not for each row: each `(SELECT …)` and `IN (SELECT …)` below stands by
itself. What is measured of it stands in docs/adr/0020.
"""

SERVICE = "(SELECT coalesce(current_setting('recount.reader', true) = 'service', false))"
READER = "(SELECT apiaries_reader())"
YARDS_SEEN = "IN (SELECT unnest(apiaries_yards_of_reader(true)))"
YARDS_KEPT = "IN (SELECT unnest(apiaries_yards_of_reader(false)))"
KEEPERS = "IN (SELECT unnest(apiaries_keepers_of_reader()))"

# The same, with the list in a SELECT of its own: the planner would call a stable function once more, only to guess how
# many rows there will be, and the list of an inspector's yards is the dear part.
YARDS_SEEN_ONCE = "IN (SELECT unnest((SELECT apiaries_yards_of_reader(true))))"
YARDS_KEPT_ONCE = "IN (SELECT unnest((SELECT apiaries_yards_of_reader(false))))"
KEEPERS_ONCE = "IN (SELECT unnest((SELECT apiaries_keepers_of_reader())))"

# Owned by who migrates, who is not held by the policies: they would ask themselves else. plpgsql keeps its plans.
FUNCTIONS = """
CREATE FUNCTION apiaries_reader() RETURNS bigint LANGUAGE sql STABLE PARALLEL SAFE AS $$
  -- A number or nothing: after a transaction the setting is empty, not NULL.
  SELECT CASE WHEN current_setting('recount.reader', true) ~ '^[0-9]+$'
    THEN current_setting('recount.reader', true)::bigint END
$$;
CREATE FUNCTION apiaries_yards_of_reader(shared boolean) RETURNS bigint[]
LANGUAGE plpgsql STABLE PARALLEL SAFE SECURITY DEFINER SET search_path = pg_catalog, public, pg_temp AS $$
DECLARE
  me bigint := public.apiaries_reader();
  mine record;
  yards bigint[];
BEGIN
  IF me IS NULL THEN
    RETURN '{}';
  END IF;
  SELECT id, club_id, role INTO mine FROM public.apiaries_membership WHERE person_id = me AND ended_at IS NULL;
  yards := ARRAY(SELECT id FROM public.apiaries_yard WHERE keeper_id = me);
  IF mine.id IS NULL THEN
    RETURN yards;  -- who left the club still sees their own
  END IF;
  yards := yards || ARRAY(
    SELECT h.yard_id FROM public.apiaries_yardhelper h JOIN public.apiaries_yard y ON y.id = h.yard_id
    WHERE h.person_id = me AND h.ended_at IS NULL AND y.club_id = mine.club_id);
  IF mine.role = 'inspector' THEN
    yards := yards || ARRAY(
      SELECT y.id FROM public.apiaries_yard y JOIN public.apiaries_membership_regions r USING (region_id)
      WHERE r.membership_id = mine.id AND y.club_id = mine.club_id);
  ELSIF shared AND mine.role = 'coordinator' THEN
    yards := yards || ARRAY(
      SELECT y.id FROM public.apiaries_yard y JOIN public.apiaries_membership m ON m.person_id = y.keeper_id
      WHERE y.club_id = mine.club_id AND m.club_id = mine.club_id AND m.ended_at IS NULL AND m.shares_counts);
  END IF;
  RETURN yards;
END $$;
CREATE FUNCTION apiaries_keepers_of_reader() RETURNS bigint[]
LANGUAGE sql STABLE PARALLEL SAFE SECURITY DEFINER SET search_path = pg_catalog, public, pg_temp AS $$
  SELECT ARRAY(
    SELECT public.apiaries_reader()
    UNION SELECT keeper_id FROM public.apiaries_yard WHERE id = ANY (public.apiaries_yards_of_reader(false))
  )
$$;
"""
NO_FUNCTIONS = """
DROP FUNCTION apiaries_keepers_of_reader();
DROP FUNCTION apiaries_yards_of_reader(boolean);
DROP FUNCTION apiaries_reader();
"""


def policies(table: str, *, seen: str, kept: str) -> str:
    """Which rows of the table a reader gets (`seen`) and which they may add and change (`kept`), beside the service.

    The owner of the table is not held: migrations, backups and restores see all.
    """
    seen, kept = f"{SERVICE} OR {seen}", f"{SERVICE} OR {kept}"
    return f"""
ALTER TABLE {table} ENABLE ROW LEVEL SECURITY;
CREATE POLICY seen ON {table} FOR SELECT USING ({seen});
CREATE POLICY added ON {table} FOR INSERT WITH CHECK ({kept});
CREATE POLICY changed ON {table} FOR UPDATE USING ({kept}) WITH CHECK ({kept});
CREATE POLICY removed ON {table} FOR DELETE USING ({kept});
"""


def policies_anew(table: str, *, seen: str, kept: str) -> str:
    """Other rules for a table that has policies. Nobody reads it without any meanwhile."""
    seen, kept = f"{SERVICE} OR {seen}", f"{SERVICE} OR {kept}"
    return f"""
ALTER POLICY seen ON {table} USING ({seen});
ALTER POLICY added ON {table} WITH CHECK ({kept});
ALTER POLICY changed ON {table} USING ({kept}) WITH CHECK ({kept});
ALTER POLICY removed ON {table} USING ({kept});
"""


def no_policies(table: str) -> str:
    """Back to what it was."""
    dropped = "".join(f"DROP POLICY {name} ON {table};\n" for name in ("seen", "added", "changed", "removed"))
    return f"ALTER TABLE {table} DISABLE ROW LEVEL SECURITY;\n{dropped}"
