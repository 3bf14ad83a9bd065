import { BenchSheet } from "./sheet.ts";
import { BenchDrawing } from "./drawing.ts";
import { BenchPiece } from "./piece.ts";
import { looks } from "./looks.ts";
import { BenchLater } from "./finish.ts";
import { TakeSound, busy } from "./take.ts";

customElements.define("bench-drawing", BenchDrawing);
customElements.define("bench-piece", BenchPiece);
customElements.define("bench-sheet", BenchSheet);
customElements.define("bench-later", BenchLater);
customElements.define("take-sound", TakeSound);
looks();
busy();
