import { BenchSheet } from "./sheet.ts";
import { BenchDrawing } from "./drawing.ts";
import { looks } from "./looks.ts";

customElements.define("bench-drawing", BenchDrawing);
customElements.define("bench-sheet", BenchSheet);
looks();
