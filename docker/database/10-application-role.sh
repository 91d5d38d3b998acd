#!/bin/sh
# Give the application a role of its own, which owns its two databases and may do nothing else.
#
# The database image runs this once, when it starts on an empty volume. On a volume of an earlier version, where the
# application was superuser, it is run by hand once (Help, "Upgrade and roll back"):
#   docker compose -f docker/compose.yaml exec database sh /docker-entrypoint-initdb.d/10-application-role.sh upgrade
set -eu
export SECRETS="${SECRETS:-/run/secrets}"

# ask ROLE FILE-OF-ITS-PASSWORD DATABASE < SQL; the passwords reach psql in variables and are on no command line.
ask() {
  { printf '%s\n' '\set own `cat "$SECRETS/database_password"`' '\set admin `cat "$SECRETS/database_admin_password"`'
    cat; } |
    PGPASSWORD="$(cat "$SECRETS/$2")" psql --no-psqlrc --quiet --set ON_ERROR_STOP=1 --username "$1" --dbname "$3"
}

if [ "${1:-}" = upgrade ]; then
  # The first role of a cluster owns its catalogue and must stay superuser, so it is renamed.
  ask bobbin database_password postgres <<'SQL'
CREATE ROLE renaming SUPERUSER LOGIN PASSWORD :'admin';
SQL
  ask renaming database_admin_password postgres <<'SQL'
ALTER ROLE bobbin RENAME TO postgres;
ALTER ROLE postgres PASSWORD :'admin';
SQL
fi

ask postgres database_admin_password postgres <<'SQL'
DROP ROLE IF EXISTS renaming;
CREATE ROLE bobbin LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOREPLICATION NOBYPASSRLS PASSWORD :'own';
SELECT EXISTS (SELECT FROM pg_database WHERE datname = 'bobbin') AS has_database \gset
\if :has_database
ALTER DATABASE bobbin OWNER TO bobbin;
\else
CREATE DATABASE bobbin OWNER bobbin;
\endif
CREATE DATABASE bobbin_drill OWNER bobbin;
REVOKE ALL ON DATABASE bobbin, bobbin_drill FROM PUBLIC;
SQL

ask postgres database_admin_password bobbin <<'SQL'
DO $$
DECLARE
  one record;
BEGIN
  FOR one IN
    SELECT c.oid::regclass AS name, c.relkind AS kind FROM pg_class c
    WHERE c.relnamespace = 'public'::regnamespace AND c.relkind IN ('r', 'p', 'v', 'm')
       OR c.relnamespace = 'public'::regnamespace AND c.relkind = 'S' AND NOT EXISTS (
         SELECT FROM pg_depend d WHERE d.objid = c.oid AND d.classid = 'pg_class'::regclass AND d.deptype IN ('a', 'i'))
  LOOP
    EXECUTE format('ALTER %s %s OWNER TO bobbin',
      CASE one.kind WHEN 'S' THEN 'SEQUENCE' WHEN 'v' THEN 'VIEW' WHEN 'm' THEN 'MATERIALIZED VIEW' ELSE 'TABLE' END,
      one.name);
  END LOOP;
END
$$;
SQL
