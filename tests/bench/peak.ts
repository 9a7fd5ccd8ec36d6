/** Source of an expression: the process's own largest size in memory, kB. Linux counts in maxRSS also what the parent
 * held before the start, but not in VmHWM. */
export const PEAK_KB = `(()=>{try{return Number(/VmHWM:\\s+(\\d+)/.exec(process.getBuiltinModule('fs').readFileSync('/proc/self/status','utf8'))[1])}catch{return process.resourceUsage().maxRSS}})()`;

/** The environment without settings of Node's own: certificates to be loaded, for one, take as long as Node itself. */
export const BARE_ENV = Object.fromEntries(Object.entries(process.env).filter(([name]) => !name.startsWith('NODE_')));
