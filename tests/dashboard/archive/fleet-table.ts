/** The part of DuckDB's client that is used here; its types come only where it is installed. */
interface DuckDb {
  readonly DuckDBInstance: {
    create(path: string): Promise<{
      connect(): Promise<{
        runAndReadAll(sql: string): Promise<{ getRowObjectsJson(): Record<string, unknown>[] }>
      }>
    }>
  }
}

/** Answers a query over a newline-delimited JSON file named in it; null where DuckDB is not installed. */
export async function duckQuery(): Promise<((sql: string) => Promise<Record<string, unknown>[]>) | null> {
  const name = '@duckdb/node-api'
  const duckdb = (await import(name).catch(() => null)) as DuckDb | null
  if (duckdb === null) return null
  const connection = await (await duckdb.DuckDBInstance.create(':memory:')).connect()
  return async (sql) => (await connection.runAndReadAll(sql)).getRowObjectsJson()
}
