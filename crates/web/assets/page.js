// The page's own script: everything works without it.
"use strict";
