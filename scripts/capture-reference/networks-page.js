'use strict';

async function load(url) {
  const image = new Image();
  image.src = url;
  await image.decode();
  return image;
}

function canvas(size) {
  const c = document.createElement('canvas');
  c.width = c.height = size;
  return c;
}

// cut returns a rotated square of a picture as a data URL of a PNG of size by
// size pixels. The region is normalised, as in testdata/reference/README.md.
window.cut = async (url, region, size) => {
  const image = await load(url);
  const c = canvas(size), g = c.getContext('2d');
  const side = region.w * image.width;
  g.fillRect(0, 0, size, size); // black beyond the picture's edge
  g.translate(size / 2, size / 2);
  g.scale(size / side, size / side);
  g.rotate(-region.rotation);
  g.drawImage(image, -region.cx * image.width, -region.cy * image.height);
  return c.toDataURL('image/png');
};

// fit returns the whole picture, shrunk to size by size pixels with black
// bars, as a data URL of a PNG.
window.fit = async (url, size) => {
  const image = await load(url);
  const c = canvas(size), g = c.getContext('2d');
  const k = size / Math.max(image.width, image.height);
  const w = image.width * k, h = image.height * k;
  g.fillRect(0, 0, size, size);
  g.drawImage(image, (size - w) / 2, (size - h) / 2, w, h);
  return c.toDataURL('image/png');
};

// run returns the outputs of a network for a crop, in the network's order.
const models = {};
window.run = async (modelURL, cropURL) => {
  tflite.setWasmPath('/npm/@tensorflow/tfjs-tflite/wasm/');
  models[modelURL] ??= await tflite.loadTFLiteModel(modelURL, {numThreads: 1});
  const model = models[modelURL];
  const image = await load(cropURL);
  const c = canvas(image.width), g = c.getContext('2d');
  g.drawImage(image, 0, 0);
  const rgba = g.getImageData(0, 0, image.width, image.height).data;
  const rgb = new Float32Array(rgba.length / 4 * 3);
  for (let i = 0, k = 0; i < rgba.length; i += 4) {
    for (let channel = 0; channel < 3; channel++) rgb[k++] = rgba[i + channel] / 255;
  }
  const input = tf.tensor(rgb, [1, image.height, image.width, 3]);
  const outputs = model.predict(input);
  const list = model.outputs.map(o => ({name: o.name, shape: o.shape, values: Array.from(outputs[o.name].dataSync())}));
  input.dispose();
  for (const o of Object.values(outputs)) o.dispose();
  return list;
};
