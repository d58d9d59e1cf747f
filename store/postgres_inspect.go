package store

import (
	"context"
	"database/sql"
	_ "embed"
	"errors"
	"strings"
)

// made leaves out what extensions bring along.
func (postgres) made(ctx context.Context, tx *sql.Tx) (tables int, list bool, err error) {
	err = tx.QueryRowContext(ctx, `SELECT count(*), count(*) FILTER (WHERE c.relname = 'migration') > 0
		FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
		WHERE n.nspname = current_schema() AND c.relkind IN ('r', 'p', 'f')
			AND NOT EXISTS (SELECT 1 FROM pg_depend d WHERE d.objid = c.oid AND d.classid = 'pg_class'::regclass AND d.deptype = 'e')`).Scan(&tables, &list)
	return tables, list, err
}

func (postgres) list() string {
	return `CREATE TABLE migration (name TEXT COLLATE "C" PRIMARY KEY, sha256 TEXT NOT NULL)`
}

// damage: pages are the server's own business (data_checksums, pg_amcheck).
func (postgres) damage(context.Context, *sql.Tx) ([]string, error) { return nil, nil }

// defined lists what stands in the schema, in words that do not depend on the
// schema's name or the server's version.
const defined = `
WITH mine AS (SELECT oid AS schema, quote_ident(nspname) || '.' AS before FROM pg_namespace WHERE nspname = current_schema())
SELECT 'table', c.relname, (
		SELECT string_agg(a.attname || ' ' || format_type(a.atttypid, a.atttypmod)
			|| CASE WHEN a.attnotnull THEN ' not null' ELSE '' END
			|| CASE WHEN k.collname = 'C' THEN ' bytewise' ELSE '' END
			|| coalesce(' default ' || pg_get_expr(d.adbin, d.adrelid), ''), ', ' ORDER BY a.attnum)
		FROM pg_attribute a LEFT JOIN pg_attrdef d ON d.adrelid = a.attrelid AND d.adnum = a.attnum LEFT JOIN pg_collation k ON k.oid = a.attcollation
		WHERE a.attrelid = c.oid AND a.attnum > 0 AND NOT a.attisdropped)
	FROM pg_class c JOIN mine ON c.relnamespace = mine.schema WHERE c.relkind IN ('r', 'p', 'f')
UNION ALL
SELECT 'constraint', c.relname || '.' || k.conname, replace(pg_get_constraintdef(k.oid), mine.before, '')
	FROM pg_constraint k JOIN pg_class c ON c.oid = k.conrelid JOIN mine ON c.relnamespace = mine.schema WHERE k.contype IN ('c', 'f', 'p', 'u', 'x')
UNION ALL
SELECT 'index', c.relname, replace(pg_get_indexdef(c.oid), mine.before, '') || CASE WHEN i.indisvalid THEN '' ELSE ' not valid' END
	FROM pg_class c JOIN pg_index i ON i.indexrelid = c.oid JOIN mine ON c.relnamespace = mine.schema
UNION ALL
SELECT 'trigger', t.tgname, c.relname || ' ' || t.tgtype::text || ' ' || t.tgenabled::text || ' ' || p.proname || coalesce(' ' || encode(t.tgargs, 'escape'), '')
	FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid JOIN pg_proc p ON p.oid = t.tgfoid JOIN mine ON c.relnamespace = mine.schema WHERE NOT t.tgisinternal
UNION ALL
SELECT 'function', p.proname, encode(sha256(convert_to(p.prosrc, 'UTF8')), 'hex') FROM pg_proc p JOIN mine ON p.pronamespace = mine.schema
	WHERE NOT EXISTS (SELECT 1 FROM pg_depend d WHERE d.objid = p.oid AND d.classid = 'pg_proc'::regclass AND d.deptype = 'e')
UNION ALL
SELECT CASE c.relkind WHEN 'v' THEN 'view' ELSE 'view kept' END, c.relname, '' FROM pg_class c JOIN mine ON c.relnamespace = mine.schema WHERE c.relkind IN ('v', 'm')
	AND NOT EXISTS (SELECT 1 FROM pg_depend d WHERE d.objid = c.oid AND d.classid = 'pg_class'::regclass AND d.deptype = 'e')
UNION ALL
SELECT 'rule', c.relname || '.' || r.rulename, '' FROM pg_rewrite r JOIN pg_class c ON c.oid = r.ev_class JOIN mine ON c.relnamespace = mine.schema WHERE r.rulename <> '_RETURN'`

func (postgres) schema(ctx context.Context, tx *sql.Tx) (map[object]string, error) {
	return objects(ctx, tx, defined)
}

// wantedText is what the migrations make on a server, a line each of kind, name
// and definition. A test makes them and compares; with -update it writes them.
//
//go:embed postgres/schema.txt
var wantedText string

func (postgres) wanted(context.Context) (map[object]string, error) {
	out := map[object]string{}
	for line := range strings.Lines(wantedText) {
		kind, rest, found := strings.Cut(strings.TrimSuffix(line, "\n"), "\t")
		name, text, also := strings.Cut(rest, "\t")
		if !found || !also {
			return nil, errors.New("postgres/schema.txt has a line that is none")
		}
		out[object{kind, name}] = text
	}
	return out, nil
}
