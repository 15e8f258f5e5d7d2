const rows = [...document.querySelectorAll(".cards li")].map(row => {
  const state = showToday([...row.querySelectorAll(".s")]);
  return {row, old: state.dataset.old === "yes", words: plain(row.dataset.words)};
});
const box = document.getElementById("search"), none = document.getElementById("none");
function plain(text) {
  return text.toLowerCase().normalize("NFD").replace(/[\u0300-\u036f-]/g, "");
}
// Old cards are found by their code alone, so that a drink's name leads to what holds now.
function search() {
  const asked = plain(box.value).split(/\s+/).filter(Boolean);
  let found = 0;
  for (const {row, old, words} of rows) {
    const code = words.split(" ")[0];
    const fits = asked.every(word => words.includes(word));
    row.hidden = !(fits && (!old || (asked.length && code.startsWith(asked[0]))));
    found += !row.hidden;
  }
  for (const group of document.querySelectorAll(".cards section"))
    group.hidden = !group.querySelector("li:not([hidden])");
  none.hidden = found > 0;
}
box.hidden = false;
box.addEventListener("input", search);
search();
keepCopies("");
