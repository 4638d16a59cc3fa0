// Reads values out of the charts: under the pointer, or by the slider that it adds,
// which keys and a screen reader use, too. Without it there is the table.
"use strict";
(function () {
  const made = (name, of, more) => of.appendChild(Object.assign(document.createElement(name), more));

  async function spotsOf(figure) {
    const narrow = figure.querySelector("img").currentSrc.includes("size=narrow");
    const url = figure.dataset.spots.replace("&size=low", "") + (narrow ? "&size=narrow" : figure.dataset.spots.includes("&size=low") ? "&size=low" : "");
    const answer = await fetch(url);
    if (!answer.ok) throw new Error(answer.status);
    return answer.json();
  }

  function nearest(spots, x) {
    let best = 0;
    spots.forEach((s, i) => { if (Math.abs(s.x - x) < Math.abs(spots[best].x - x)) best = i; });
    return best;
  }

  function follow(figure) {
    const plot = figure.querySelector(".plot"), img = plot.querySelector("img");
    const dot = made("span", plot, { className: "dot", hidden: true });
    const row = document.createElement("p");
    row.className = "readout noprint";
    plot.after(row);
    const slider = made("input", row, { type: "range", min: 0, max: 1, value: 0, step: 1 });
    slider.setAttribute("aria-label", "Read a value out of this chart");
    const words = made("span", row, { textContent: "Point at the picture, or move the slider, to read a value." });
    let spots = null;

    const load = async () => {
      if (spots) return spots;
      try {
        spots = await spotsOf(figure);
      } catch {
        words.textContent = "The values could not be fetched. The table has them.";
        return null;
      }
      slider.max = spots.length - 1;
      slider.value = spots.length - 1;
      return spots;
    };
    const say = (i) => {
      const s = spots[i];
      if (!s) return;
      slider.value = i;
      slider.setAttribute("aria-valuetext", s.words);
      words.textContent = s.words;
      dot.hidden = false;
      dot.style.left = (100 * s.x * img.offsetWidth) / plot.offsetWidth + "%";
      dot.style.top = (100 * s.y * img.offsetHeight) / plot.offsetHeight + "%";
    };
    const point = async (event) => {
      const box = img.getBoundingClientRect(), x = (event.clientX - box.left) / box.width;
      if (await load()) say(nearest(spots, x));
    };
    plot.addEventListener("pointermove", point);
    plot.addEventListener("pointerdown", point);
    slider.addEventListener("focus", async () => { if (await load()) say(+slider.value); });
    slider.addEventListener("input", async () => { if (await load()) say(+slider.value); });
    window.matchMedia("(max-width: 34em)").addEventListener("change", () => { spots = null; dot.hidden = true; });
  }

  document.querySelectorAll("figure[data-spots]").forEach(follow);
})();
