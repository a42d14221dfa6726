declare const __STILLHOLD_VERSION__: string | undefined

/** Version of package.json, inserted by the build; `0.0.0-dev` when run from the sources. */
export const programVersion = typeof __STILLHOLD_VERSION__ === 'string' ? __STILLHOLD_VERSION__ : '0.0.0-dev'
