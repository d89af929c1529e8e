// A headless Chromium on pages and files of this folder, its npm packages and
// a data folder. Nothing is loaded from the network.

import fs from 'node:fs';
import http from 'node:http';
import os from 'node:os';
import path from 'node:path';
import {fileURLToPath} from 'node:url';
import {chromium} from 'playwright-core';

const here = path.dirname(fileURLToPath(import.meta.url));
const executable = process.env.CHROMIUM ?? '/usr/bin/chromium';

const types = {'.js': 'text/javascript', '.html': 'text/html', '.wasm': 'application/wasm', '.png': 'image/png'};

// serve answers /npm/… from node_modules, /data/… from dataDir and the rest
// from this folder. replace maps a request path to a function that returns the
// content to send instead.
function serve(dataDir, replace) {
  const roots = {'/npm/': path.join(here, 'node_modules'), '/data/': dataDir, '/': here};
  return http.createServer((request, response) => {
    const name = decodeURIComponent(new URL(request.url, 'http://localhost').pathname);
    try {
      let body;
      if (replace[name]) {
        body = replace[name]();
      } else {
        const prefix = Object.keys(roots).find(p => name.startsWith(p));
        const file = path.join(roots[prefix], path.normalize('/' + name.slice(prefix.length)));
        body = fs.readFileSync(file);
      }
      response.writeHead(200, {'content-type': types[path.extname(name)] ?? 'application/octet-stream'});
      response.end(body);
    } catch {
      response.writeHead(404);
      response.end();
    }
  });
}

// withPage opens a page and calls use(page, base) with it; whatever happens,
// the browser, the server and the profile are gone afterwards.
export async function withPage(pageName, {dataDir = here, replace = {}}, use) {
  if (!fs.existsSync(executable)) {
    throw new Error(`${executable} is missing: install the package chromium, or name a browser in the variable CHROMIUM`);
  }
  const server = serve(dataDir, replace);
  await new Promise(resolve => server.listen(0, '127.0.0.1', resolve));
  const base = `http://127.0.0.1:${server.address().port}`;
  const profile = fs.mkdtempSync(path.join(os.tmpdir(), 'capture-'));
  let context;
  try {
    context = await chromium.launchPersistentContext(profile, {
      executablePath: executable, headless: true,
      args: ['--no-sandbox', '--use-gl=angle', '--use-angle=swiftshader', '--enable-unsafe-swiftshader',
        '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'],
    });
    const page = context.pages()[0] ?? await context.newPage();
    page.on('pageerror', e => console.error('page:', e.message));
    await page.goto(`${base}/${pageName}`);
    return await use(page, base);
  } finally {
    await context?.close();
    server.close();
    fs.rmSync(profile, {recursive: true, force: true});
  }
}

export const packageFile = (...parts) => path.join(here, 'node_modules', ...parts);
