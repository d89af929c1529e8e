// The reference pipeline: the package's own graph, full models, CPU inference.

import {withPage} from './browser.mjs';
import {patchedGraph, patchedScript} from './expose.mjs';

const options = {
  modelComplexity: 1, minDetectionConfidence: 0.5, minTrackingConfidence: 0.5,
  selfieMode: false, useCpuInference: true,
};

// findHands looks for hands in the listed pictures. It looks for as many as
// there are, since the pipeline does not detect again while it tracks enough
// of them: so the second frame shows tracking alone.
export async function findHands(dataDir, list) {
  const replace = {
    '/npm/@mediapipe/hands/hands.js': patchedScript,
    '/npm/@mediapipe/hands/hands.binarypb': patchedGraph,
  };
  const found = new Map();
  for (const most of [1, 2]) {
    const some = list.filter(p => (p.expected_hands || 2) === most);
    await withPage('pipeline.html', {dataDir, replace}, async (page, base) => {
      await page.evaluate(o => start(o), {...options, maxNumHands: most});
      for (const p of some) {
        const result = await page.evaluate(u => find(u), `${base}/data/${p.file}`);
        found.set(p.file, {...p, max_hands: most, ...result});
      }
    });
  }
  return list.map(p => found.get(p.file));
}

// timeTracking returns the milliseconds of each of n frames in video mode, one
// hand that stands still, the package as published. The first frame, which
// loads and detects, and warm frames after it are left out.
export async function timeTracking(dataDir, file, n) {
  const warm = 20;
  return withPage('pipeline.html', {dataDir}, async (page, base) => {
    await page.evaluate(o => start(o), {...options, maxNumHands: 1});
    const ms = await page.evaluate(([u, k]) => time(u, k), [`${base}/data/${file}`, warm + n]);
    return ms.slice(warm);
  });
}
