#!/bin/sh
# Everything that runs a real service, one word each; docs/how-to/run-it-for-real.md says when. Settings come from the
# environment. What stands behind the word goes to the program: start.sh web --workers 4 --bind 127.0.0.1:8000
set -eu
cd "$(dirname "$0")/../../.."
PYTHON=${PYTHON:-.venv/bin/python}

usage() {
	echo "Say one of: start.sh database ROLE NAME | migrate | grant ROLE | files | check | backup ... | restore ... | club ... | web ... | worker ... | beat ..." >&2
	exit 2
}

word=${1:-}
[ $# -eq 0 ] || shift
case $word in
database) # once, as a superuser of PostgreSQL; the role's password is read from standard input
	[ $# -eq 2 ] || usage
	IFS= read -r password
	# By the environment of this one program, so that no list of processes shows it.
	ROLE=$1 NAME=$2 WORD=$password psql --quiet --no-psqlrc --set ON_ERROR_STOP=1 --dbname postgres <<-'SQL'
		\getenv role ROLE
		\getenv name NAME
		\getenv word WORD
		CREATE ROLE :"role" LOGIN PASSWORD :'word' NOSUPERUSER NOBYPASSRLS NOCREATEDB NOCREATEROLE;
		CREATE DATABASE :"name" OWNER :"role";
	SQL
	;;
migrate) # once for each release, before the processes of that release start
	"$PYTHON" manage.py check --deploy --fail-level ERROR
	"$PYTHON" manage.py migrate --no-input
	exec "$PYTHON" manage.py load_reference
	;;
grant) # after each migrate, with the owner's DATABASE_URL, where the service runs as a role of its own
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
club) exec "$PYTHON" manage.py start_club "$@" ;;
web) exec "$PYTHON" -m gunicorn config.wsgi --config python:config.web_server --no-control-socket "$@" ;;
worker) # several may run on one host: each has a name of its own
	exec "$PYTHON" -m celery -A config worker --loglevel INFO --hostname "recount-$$@%h" "$@"
	;;
beat) exec "$PYTHON" -m celery -A config beat --loglevel INFO --pidfile '' "$@" ;;
*) usage ;;
esac
