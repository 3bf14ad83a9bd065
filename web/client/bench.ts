import { BenchSheet } from "./sheet.ts";
import { BenchDrawing } from "./drawing.ts";
import { BenchPiece } from "./piece.ts";
import { FlankOutline } from "./flanks.ts";
import { looks } from "./looks.ts";
import { BenchLater } from "./finish.ts";
import { TakeSound, busy } from "./take.ts";
import { PassPlayer } from "./player.ts";

customElements.define("bench-drawing", BenchDrawing);
customElements.define("bench-piece", BenchPiece);
customElements.define("bench-sheet", BenchSheet);
customElements.define("bench-later", BenchLater);
customElements.define("flank-outline", FlankOutline);
customElements.define("take-sound", TakeSound);
customElements.define("pass-player", PassPlayer);
looks();
busy();
