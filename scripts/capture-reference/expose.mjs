// The package's pipeline graph computes palm detections and crop regions but
// hands out landmarks only. These functions add the other streams to what it
// hands out; what is computed stays as it is.

import fs from 'node:fs';
import {packageFile} from './browser.mjs';

// streams maps the names of the subgraph's outputs to the names used here.
const streams = {
  PALM_DETECTIONS: 'palm_detections',
  HAND_ROIS_FROM_PALM_DETECTIONS: 'palm_regions',
  HAND_ROIS_FROM_LANDMARKS: 'hand_regions',
};

// varint encodes a protocol buffer integer, and readVarint decodes one.
function varint(n) {
  const bytes = [];
  for (; n > 127; n = Math.floor(n / 128)) bytes.push(n % 128 + 128);
  return Buffer.from([...bytes, n]);
}

function readVarint(b, at) {
  let value = 0, scale = 1, byte;
  do {
    byte = b[at++];
    value += (byte & 127) * scale;
    scale *= 128;
  } while (byte & 128);
  return [value, at];
}

const bytesField = (number, content) =>
  Buffer.concat([varint(number * 8 + 2), varint(content.length), content]);

// patchedGraph returns the package's graph (a CalculatorGraphConfig) with the
// streams above as outputs of its one tracking node.
export function patchedGraph() {
  const graph = fs.readFileSync(packageFile('@mediapipe/hands/hands.binarypb'));
  const parts = [];
  let patched = 0;
  for (let at = 0; at < graph.length;) {
    const start = at;
    let tag, value;
    [tag, at] = readVarint(graph, at);
    [value, at] = readVarint(graph, at);
    if (tag % 8 !== 2) { // a number
      parts.push(graph.subarray(start, at));
      continue;
    }
    let content = graph.subarray(at, at + value);
    at += value;
    const node = 1, outputStream = 4; // field numbers
    if (tag >> 3 === node && content.includes('HandLandmarkTrackingGpu')) {
      const outputs = Object.entries(streams).map(([k, v]) => bytesField(outputStream, Buffer.from(`${k}:${v}`)));
      content = Buffer.concat([content, ...outputs]);
      patched++;
    }
    parts.push(bytesField(tag >> 3, content));
  }
  if (patched !== 1) throw new Error(`the pipeline graph has ${patched} tracking nodes, want 1`);
  return Buffer.concat(parts);
}

// patchedScript returns the package's script, which lists the streams that it
// listens to, with the added ones.
export function patchedScript() {
  let script = fs.readFileSync(packageFile('@mediapipe/hands/hands.js'), 'utf8');
  const replace = (from, to) => {
    if (script.split(from).length !== 2) throw new Error(`the package's script is not the one expected: ${from}`);
    script = script.replace(from, to);
  };
  const names = Object.values(streams).map(s => `,"${s}"`).join('');
  replace('"image_transformed","multi_handedness"]', `"image_transformed","multi_handedness"${names}]`);
  const out = (name, stream, decode) => `${name}:{type:"proto",stream:"${stream}",transform:exposed.${decode}},`;
  replace('outs:{image:"image_transformed",', 'outs:{image:"image_transformed",' +
    out('palms', 'palm_detections', 'palms') +
    out('palmRegions', 'palm_regions', 'regions') +
    out('handRegions', 'hand_regions', 'regions'));
  return script;
}
