'use strict';

// fields decodes a protocol buffer message whose fields are floats, numbers
// and messages: a list of [field number, value], messages as bytes.
function fields(bytes) {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const list = [];
  let at = 0;
  const varint = () => {
    let value = 0, scale = 1, byte;
    do {
      byte = bytes[at++];
      value += (byte & 127) * scale;
      scale *= 128;
    } while (byte & 128);
    return value;
  };
  while (at < bytes.length) {
    const tag = varint();
    let value;
    switch (tag % 8) {
      case 0: value = varint(); break;
      case 2: {
        const length = varint();
        value = bytes.subarray(at, at + length);
        at += length;
        break;
      }
      case 5: value = view.getFloat32(at, true); at += 4; break;
      default: throw new Error(`protocol buffer wire type ${tag % 8}`);
    }
    list.push([Math.floor(tag / 8), value]);
  }
  return list;
}

// rect decodes a NormalizedRect: centre, size, rotation in radians.
function rect(bytes) {
  const f = Object.fromEntries(fields(bytes));
  return {cx: f[1], cy: f[2], w: f[4], h: f[3], rotation: f[5] ?? 0};
}

// Values that the pipeline hands over live in its own memory until deleted.
function each(vector, decode) {
  const list = [];
  for (let i = 0; i < vector.size(); i++) list.push(decode(vector.get(i)));
  vector.delete();
  return list;
}

// exposed decodes the streams that expose.mjs adds.
window.exposed = {
  regions: vector => each(vector, rect),
  palms: detections => {
    const boxes = each(detections.getRectList(), rect);
    const points = each(detections.getLandmarksList(), bytes => fields(bytes).map(([, point]) => {
      const f = Object.fromEntries(fields(point));
      return [f[1] ?? 0, f[2] ?? 0];
    }));
    const scores = each(detections.getClassificationsList(), bytes =>
      Object.fromEntries(fields(fields(bytes)[0][1]))[2]);
    return boxes.map((b, i) => ({
      score: scores[i],
      box: {x: b.cx - b.w / 2, y: b.cy - b.h / 2, w: b.w, h: b.h},
      points: points[i],
    }));
  },
};

let hands, results;

// start opens the pipeline; the options are those of the package's index.d.ts.
window.start = async options => {
  hands = new Hands({locateFile: f => '/npm/@mediapipe/hands/' + f});
  hands.setOptions(options);
  hands.onResults(r => { results = r; });
  await hands.initialize();
};

window.picture = async url => {
  const image = new Image();
  image.src = url;
  await image.decode();
  const canvas = document.createElement('canvas');
  canvas.width = image.width;
  canvas.height = image.height;
  canvas.getContext('2d').drawImage(image, 0, 0);
  return canvas;
};

// find returns what the pipeline finds in a picture, in the layout of
// testdata/reference/README.md. The package has no mode for stills: it always
// tracks, so it is reset first. The region derived from the landmarks shows
// only when it is used, which is in a second frame.
window.find = async url => {
  const canvas = await picture(url);
  const frame = async () => {
    results = undefined;
    await hands.send({image: canvas});
    return results;
  };
  hands.reset();
  const first = await frame();
  const second = await frame();
  const decoded = r => {
    const xyz = list => list.map(p => [p.x, p.y, p.z]);
    return (r.multiHandLandmarks ?? []).map((landmarks, i) => ({
      label: r.multiHandedness[i].label,
      score: r.multiHandedness[i].score,
      landmarks: xyz(landmarks),
      world: xyz(r.multiHandWorldLandmarks[i]),
    }));
  };
  const regions = second.handRegions ?? [];
  return {
    palms: first.palms ?? [],
    palm_regions: first.palmRegions ?? [],
    hands: decoded(first),
    tracked: decoded(second).map((h, i) => ({region: regions[i], ...h})),
  };
};

// time sends the same picture n times and returns the milliseconds that each
// took.
window.time = async (url, n) => {
  const canvas = await picture(url);
  const ms = [];
  for (let i = 0; i < n; i++) {
    const begin = performance.now();
    await hands.send({image: canvas});
    ms.push(performance.now() - begin);
  }
  if (!results.multiHandLandmarks?.length) throw new Error(`no hand found in ${url}`);
  return ms;
};
