// How hard something is, as the library lists it.

import { t } from "./words.js";

export const toldDifficulty = (difficulty) => t("library.difficulty_short", { difficulty });
