// node time.mjs DIR PICTURE N
//
// Prints, as one JSON object, how long the reference pipeline takes for one
// tracked frame: the median and the 95th percentile of N frames of the picture
// DIR/PICTURE, in milliseconds.

import {timeTracking} from './pipeline.mjs';

const [dir, picture, count] = process.argv.slice(2);
const n = Number(count);
if (!dir || !picture || !(n >= 1)) {
  console.error('usage: node time.mjs DIR PICTURE N');
  process.exit(2);
}
const ms = (await timeTracking(dir, picture, n)).sort((a, b) => a - b);
const quantile = q => ms[Math.min(ms.length - 1, Math.floor(q * ms.length))];
console.log(JSON.stringify({frames: n, median_ms: quantile(0.5), p95_ms: quantile(0.95)}));
