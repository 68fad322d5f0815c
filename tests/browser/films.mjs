// Films whose every frame carries its own number, as black and white blocks that outlive any coder, and the sound of a
// take as a camera across the room would have it: later, softer, by another clock.
import { spawn } from "node:child_process";
import { once } from "node:events";

const ffmpeg = process.env.FFMPEG;
const [WIDTH, HEIGHT, BLOCK] = [320, 160, 40];
const BITS = (WIDTH / BLOCK) * 2;

/** Whether films can be made here. */
export const films = Boolean(ffmpeg);

/** The clock of all films: film seconds at the take's start, and its seconds for one of the take's. */
export const OFFSET = 1.3, DRIFT = 44100 / 44102;

/** A picture: 16 bits of its number in two rows of blocks, and the same turned over below, so that a misread shows. */
function frame(number) {
  const picture = Buffer.alloc(WIDTH * HEIGHT);
  for (let y = 0; y < HEIGHT; y++) for (let x = 0; x < WIDTH; x++) {
    const row = Math.floor(y / BLOCK), bit = (number >> ((row % 2) * (WIDTH / BLOCK) + Math.floor(x / BLOCK))) & 1;
    picture[y * WIDTH + x] = (row < 2 ? bit : 1 - bit) ? 235 : 16;
  }
  return picture;
}

/** Makes a film of `seconds` at `rate` frames a second; `vary` leaves frames out, so that each is shown until the next;
 * `late` has the sound's track begin after the picture's by so many seconds. */
export async function make(path, take, { rate, seconds, vary = false, late = 0 }) {
  const coder = path.endsWith(".mp4") ? ["-c:v", "libx264", "-preset", "veryfast", "-bf", "2", "-pix_fmt", "yuv420p", "-c:a", "aac"] : ["-c:v", "libvpx", "-b:v", "1M", "-deadline", "realtime", "-cpu-used", "8", "-c:a", "libopus"];
  const picture = vary ? ["-vf", "select='not(eq(mod(n,3),1))*not(eq(mod(n,7),2))'", "-fps_mode", "vfr"] : [];
  const run = spawn(ffmpeg, [
    "-v", "error", "-y", "-f", "rawvideo", "-pix_fmt", "gray", "-s", `${WIDTH}x${HEIGHT}`, "-r", String(rate), "-i", "-", "-itsoffset", String(late), "-i", take,
    "-filter_complex", `[1:a]asetrate=44102,aresample=48000,highpass=f=200,lowpass=f=4000,adelay=${Math.round((OFFSET - late) * 1000)}:all=1,volume=-9dB[a]`,
    ...picture, "-map", "0:v", "-map", "[a]", "-g", "30", ...coder, "-shortest", path,
  ], { stdio: ["pipe", "inherit", "inherit"] });
  const ended = once(run, "exit");
  // It ends with the sound, and then takes no more frames.
  let over = false;
  run.stdin.on("error", () => { over = true; });
  for (let n = 0; n < rate * seconds && !over; n++) if (!run.stdin.write(frame(n))) await Promise.race([new Promise((on) => run.stdin.once("drain", on)), ended]);
  run.stdin.end();
  const [code] = await ended;
  if (code !== 0) throw new Error(`${ffmpeg} ended with ${code}`);
}

/** Whether frame `n` of a varied film is there. */
export const kept = (n) => n % 3 !== 1 && n % 7 !== 2;

/** The number of the frame that a video shows, read from a picture of the screen. */
export async function number(page, video) {
  const png = (await video.screenshot()).toString("base64");
  const levels = await page.evaluate(async ([png, columns, rows]) => {
    const image = new Image();
    image.src = "data:image/png;base64," + png;
    await image.decode();
    const canvas = document.createElement("canvas");
    [canvas.width, canvas.height] = [image.width, image.height];
    const g = canvas.getContext("2d");
    g.drawImage(image, 0, 0);
    const at = (column, row) => g.getImageData(Math.floor(((column + 0.5) / columns) * image.width), Math.floor(((row + 0.5) / rows) * image.height), 1, 1).data[1];
    return Array.from({ length: rows * columns }, (_, k) => at(k % columns, Math.floor(k / columns)));
  }, [png, WIDTH / BLOCK, HEIGHT / BLOCK]);
  let n = 0;
  for (let bit = 0; bit < BITS; bit++) {
    const [on, off] = [levels[bit] > 128, levels[bit + BITS] > 128];
    if (on === off) throw new Error(`no frame number in the picture: ${levels}`);
    if (on) n |= 1 << bit;
  }
  return n;
}
