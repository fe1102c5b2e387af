"use strict";

/* Parts of the page beside the map itself: each file adds one function that is called with the map's
   core once everything is drawn. */
const ringrowParts = [];
