// Shapes of notes: a filled dot on the same string; an open circle, diamond, triangle or square at a change.
const KIND = { same: 0, outside: 1, inside: 2, sweep: 3, other: 4 };

function drawMark(g, kind, x, y, r) {
  g.beginPath();
  if (kind === KIND.same) {
    g.arc(x, y, r * 0.6, 0, 7);
    g.fill();
    return;
  }
  if (kind === KIND.outside) g.arc(x, y, r, 0, 7);
  else if (kind === KIND.inside) polygon(g, x, y, [[0, -r - 1], [r + 1, 0], [0, r + 1], [-r - 1, 0]]);
  else if (kind === KIND.sweep) polygon(g, x, y, [[0, -r], [r, r], [-r, r]]);
  else polygon(g, x, y, [[-r, -r], [r, -r], [r, r], [-r, r]]);
  g.stroke();
}

function polygon(g, x, y, points) {
  points.forEach(([dx, dy], i) => (i ? g.lineTo(x + dx, y + dy) : g.moveTo(x + dx, y + dy)));
  g.closePath();
}
