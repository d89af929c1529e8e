// node capture.mjs DIR
//
// Reads DIR/pictures.json and the pictures it lists and writes DIR/crops,
// DIR/pipeline.json and DIR/raw.json; DIR/README.md describes them.

import fs from 'node:fs';
import path from 'node:path';
import {runNetworks} from './networks.mjs';
import {findHands} from './pipeline.mjs';

const [dir] = process.argv.slice(2);
if (!dir) {
  console.error('usage: node capture.mjs DIR');
  process.exit(2);
}
const write = (name, key, list) => {
  const lines = list.map(x => JSON.stringify(x, (_, v) => typeof v === 'number' ? Number(v.toPrecision(7)) : v));
  fs.writeFileSync(path.join(dir, name), `{"${key}": [\n${lines.join(',\n')}\n]}\n`);
};

const list = JSON.parse(fs.readFileSync(path.join(dir, 'pictures.json')));
const found = await findHands(dir, list);
write('pipeline.json', 'pictures', found);
for (const p of found) {
  console.log(`${p.file}: ${p.hands.length} of ${p.expected_hands} hands`);
  // A picture in which the reference fails shows nothing about agreement.
  if (p.hands.length !== p.expected_hands) process.exitCode = 1;
}
write('raw.json', 'runs', await runNetworks(dir, found));
