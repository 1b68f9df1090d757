// What a foot switch sends: its usual keys, or the one that was pressed for it at the dark rehearsal.

export const LEARNED = "printlore-switch";
const USUAL = new Set(["Space", "Enter", "PageDown", "ArrowRight", "NumpadEnter"]);

export const isSwitch = (code) => USUAL.has(code) || code === localStorage.getItem(LEARNED);
