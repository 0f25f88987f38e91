// Everything that is asked of pixels: plots, warnings, where a step acts, tools on the picture, many stills, room, time.

import "./scopes.js";
import "./warnings.js";
import "./findings.js";
import "./acting.js";
import "./pick.js";
import "./grey.js";
import "./level.js";
import "./way.js";
import "./many.js";
import "./drop.js";
import "./clip.js";
import { follow } from "./room.js";

follow();
