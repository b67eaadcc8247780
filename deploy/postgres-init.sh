#!/bin/sh
# Run once by the PostgreSQL image, on an empty data directory: a role for Plumbline that
# owns its own database and is nothing else.
set -eu
psql -v ON_ERROR_STOP=1 --username "${POSTGRES_USER:-postgres}" --dbname postgres <<'SQL'
\getenv password PLUMBLINE_DB_PASSWORD
CREATE ROLE plumbline LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE PASSWORD :'password';
CREATE DATABASE plumbline OWNER plumbline ENCODING 'UTF8' TEMPLATE template0;
REVOKE ALL ON DATABASE plumbline FROM PUBLIC;
SQL
