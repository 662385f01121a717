// look: serves the pages for looking at them by hand. usage: look.mjs PAGES PROGRAM BULLETIN.yaml...   prints its address.
import { serve } from './serve.mjs';

const [pages, program, ...files] = process.argv.slice(2);
console.log((await serve(pages, program, files)).url);
