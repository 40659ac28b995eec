#!/bin/sh
# Everything that runs a real service, one word each; docs/how-to/run-it-for-real.md says when. Settings come from the
# environment. What stands behind the word goes to the program: start.sh web --workers 4 --bind 127.0.0.1:8000
set -eu
cd "$(dirname "$0")/../../.."
PYTHON=${PYTHON:-.venv/bin/python}

usage() {
	echo "Say one of: start.sh database OWNER ROLE NAME | as FILE ... | migrate [ROLE] | grant ROLE | files | check | seal | backup ... | restore ... | club ... | web ... | worker ... | beat ..." >&2
	exit 2
}

word=${1:-}
[ $# -eq 0 ] || shift
case $word in
database) # once, as a superuser of PostgreSQL; two passwords on standard input: the owner's, then the service's role's
	[ $# -eq 3 ] || usage
	IFS= read -r first && IFS= read -r second || usage
	# By the environment of this one program, so that no list of processes shows them.
	OWNER=$1 ROLE=$2 NAME=$3 FIRST=$first SECOND=$second psql --quiet --no-psqlrc --set ON_ERROR_STOP=1 --dbname postgres <<-'SQL'
		\getenv owner OWNER
		\getenv role ROLE
		\getenv name NAME
		\getenv first FIRST
		\getenv second SECOND
		CREATE ROLE :"owner" LOGIN PASSWORD :'first' NOSUPERUSER NOBYPASSRLS NOCREATEDB NOCREATEROLE;
		CREATE ROLE :"role" LOGIN PASSWORD :'second' NOSUPERUSER NOBYPASSRLS NOCREATEDB NOCREATEROLE;
		CREATE DATABASE :"name" OWNER :"owner";
	SQL
	;;
as) # what follows, with the DATABASE_URL that this file holds: the owner's, for migrate, grant, backup and restore
	[ $# -ge 2 ] || usage
	DATABASE_URL='' DATABASE_URL_FILE=$1
	export DATABASE_URL DATABASE_URL_FILE
	shift
	exec docs/how-to/deploy/start.sh "$@"
	;;
migrate) # as the owner, once for each release, before the processes of that release start; ROLE: as which these run
	[ $# -le 1 ] || usage
	"$PYTHON" manage.py check --deploy --fail-level ERROR
	"$PYTHON" manage.py migrate --no-input
	"$PYTHON" manage.py load_reference
	[ $# -eq 0 ] || exec "$PYTHON" manage.py grant_roles "$1"
	;;
grant) # as the owner: what migrate with a ROLE says at its end
	[ $# -eq 1 ] || usage
	exec "$PYTHON" manage.py grant_roles "$1"
	;;
files) # once for each release, on each host
	"$PYTHON" -m config.catalogues compile
	exec "$PYTHON" manage.py collectstatic --no-input
	;;
backup) exec "$PYTHON" manage.py backup "$@" ;;
restore) exec "$PYTHON" manage.py restore "$@" ;;
check) exec "$PYTHON" manage.py check_setup "$@" ;;
seal) exec "$PYTHON" manage.py seal_second_steps ;; # once there is a SECOND_STEP_KEY, or a newer one
club) exec "$PYTHON" manage.py start_club "$@" ;;
web) exec "$PYTHON" -m gunicorn config.wsgi --config python:config.web_server --no-control-socket "$@" ;;
worker) # several may run on one host: each has a name of its own
	exec "$PYTHON" -m celery -A config worker --loglevel INFO --hostname "recount-$$@%h" "$@"
	;;
beat) exec "$PYTHON" -m celery -A config beat --loglevel INFO --pidfile '' "$@" ;;
*) usage ;;
esac
