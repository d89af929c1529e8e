// The original .tflite networks on fixed crops of the pictures.

import fs from 'node:fs';
import path from 'node:path';
import {packageFile, withPage} from './browser.mjs';

// packed cuts a file out of the package's packed assets.
function packed(name) {
  const loader = fs.readFileSync(packageFile('@mediapipe/hands/hands_solution_packed_assets_loader.js'), 'utf8');
  const {files} = JSON.parse(loader.match(/loadPackage\((\{"files".*\})\)/)[1]);
  const {start, end} = files.find(f => path.basename(f.filename) === name);
  return fs.readFileSync(packageFile('@mediapipe/hands/hands_solution_packed_assets.data')).subarray(start, end);
}

// The networks under the names of the converted files, each with the names
// that the conversion gives the outputs, in the order of the original's.
const networks = {
  'hand_landmark.onnx': {
    size: 224, original: 'hand_landmark_full.tflite', outputs: ['landmarks', 'presence', 'handedness', 'world'],
    read: () => fs.readFileSync(packageFile('@mediapipe/hands/hand_landmark_full.tflite')),
  },
  'palm_detection.onnx': {
    size: 192, original: 'palm_detection_full.tflite', outputs: ['boxes', 'scores'],
    read: () => packed('palm_detection_full.tflite'),
  },
};

const palmPictures = 3;

// Six significant digits hold a float32 to a millionth of its size.
const round = v => Number(v.toPrecision(6));

// runNetworks cuts crops from the pictures, with the regions that the pipeline
// found, writes them to dataDir/crops and returns what the networks give.
export async function runNetworks(dataDir, found) {
  const replace = {};
  for (const n of Object.values(networks)) replace['/model/' + n.original] = n.read;
  const crops = path.join(dataDir, 'crops');
  fs.rmSync(crops, {recursive: true, force: true});
  fs.mkdirSync(crops, {recursive: true});
  return withPage('networks.html', {dataDir, replace}, async (page, base) => {
    const runs = [];
    const one = async (model, name, dataURL) => {
      const file = `crops/${name}.png`;
      fs.writeFileSync(path.join(dataDir, file), Buffer.from(dataURL.split(',')[1], 'base64'));
      const {original, outputs} = networks[model];
      const got = await page.evaluate(a => run(...a), [`${base}/model/${original}`, `${base}/data/${file}`]);
      got.sort((a, b) => a.name.localeCompare(b.name)); // Identity, Identity_1, …
      runs.push({model, input: file, outputs: Object.fromEntries(outputs.map((o, i) => [o, got[i].values.map(round)]))});
    };
    const middle = {cx: 0.5, cy: 0.5, w: 0.4, h: 0.53, rotation: 0};
    for (const [i, p] of found.entries()) {
      const url = `${base}/data/${p.file}`, name = path.basename(p.file, '.png');
      if (i % 2 === 0) {
        const region = p.palm_regions[0] ?? middle;
        await one('hand_landmark.onnx', 'hand-' + name,
          await page.evaluate(a => cut(...a), [url, region, networks['hand_landmark.onnx'].size]));
      }
      if (i < palmPictures) {
        await one('palm_detection.onnx', 'palm-' + name,
          await page.evaluate(a => fit(...a), [url, networks['palm_detection.onnx'].size]));
      }
    }
    return runs;
  });
}
