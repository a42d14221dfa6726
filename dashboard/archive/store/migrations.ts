import type { Sqlite } from './open-sqlite.ts'

/**
 * Migrations of the index: step N takes a database from `user_version` N to N + 1. A released step is never
 * edited; the index of any earlier program is migrated step by step.
 */
const steps: readonly string[] = [
  // 0 → 1: one archive's own records.
  `CREATE TABLE record (
     sequence INTEGER PRIMARY KEY,
     id TEXT NOT NULL UNIQUE,
     sha256 TEXT NOT NULL,
     text TEXT NOT NULL
   ) STRICT;`,
  // 1 → 2: chains of other archives, in addition to its own chain with fingerprint ''.
  `CREATE TABLE chained (
     chain TEXT NOT NULL,
     sequence INTEGER NOT NULL,
     id TEXT NOT NULL,
     sha256 TEXT NOT NULL,
     text TEXT NOT NULL,
     PRIMARY KEY (chain, id)
   ) STRICT;
   INSERT INTO chained SELECT '', sequence, id, sha256, text FROM record;
   DROP TABLE record;
   ALTER TABLE chained RENAME TO record;`,
  // 2 → 3: filter columns, computed from the sealed text so that they cannot disagree with it.
  `ALTER TABLE record ADD COLUMN kind TEXT GENERATED ALWAYS AS (text ->> '$.kind') VIRTUAL;
   ALTER TABLE record ADD COLUMN sealed_at TEXT GENERATED ALWAYS AS (text ->> '$.sealed_at') VIRTUAL;
   ALTER TABLE record ADD COLUMN verdict TEXT GENERATED ALWAYS AS (text ->> '$.result.verdict') VIRTUAL;
   CREATE INDEX record_sealed ON record (sealed_at, chain, sequence);
   CREATE INDEX record_verdict ON record (verdict);`,
  // 3 → 4: the gist of each record, so that a command opens no record file and no recording; filters read it too.
  `DROP INDEX record_sealed;
   DROP INDEX record_verdict;
   CREATE TABLE gist (
     chain TEXT NOT NULL,
     id TEXT NOT NULL,
     text TEXT NOT NULL,
     PRIMARY KEY (chain, id)
   ) STRICT;`,
]

export const indexVersion = steps.length

/** Migrates the index to this program's version in one transaction. Returns false for an index of a newer program. */
export function migrateIndex(database: Sqlite, upTo: number = indexVersion): boolean {
  const version = database.pragma('user_version') as number
  if (version > indexVersion) return false
  database.transaction(() => {
    for (const [i, step] of steps.slice(version, upTo).entries()) {
      database.exec(step)
      database.exec(`PRAGMA user_version = ${version + i + 1}`)
    }
  })
  return true
}
