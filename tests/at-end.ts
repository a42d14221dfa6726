const tasks: (() => void)[] = []

/** Does something when the test file is over. The hooks of a module that several files import run in the first of them only. */
export function atEnd(task: () => void): void {
  tasks.push(task)
}

/** The newest first: an archive is closed before its folder goes. */
export function endAll(): void {
  for (const task of tasks.splice(0).reverse()) task()
}
